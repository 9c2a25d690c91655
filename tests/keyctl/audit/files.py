"""A database file of a test's own, in the place of the tests' database for a while."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connections

from keyctl.lib.gated.base import DatabaseWrapper


def open_file(file: Path) -> DatabaseWrapper:
    facts = {**connections["default"].settings_dict, "NAME": str(file)}
    return DatabaseWrapper(facts | {"OPTIONS": {"init_command": "PRAGMA synchronous=OFF"}}, "default")


@contextmanager
def using_file(file: Path) -> Iterator[DatabaseWrapper]:
    before, own = connections["default"], open_file(file)
    connections["default"] = own
    try:
        yield own
    finally:
        own.close()
        connections["default"] = before
