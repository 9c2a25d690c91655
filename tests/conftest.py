"""Fixtures every test may use."""

import gc
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any

import pytest
from django.db import connection
from django.db.models.signals import post_migrate

from tests.cast import Cast, gather

# Rights here are roles. Django would write its own permissions anew after each test that commits.
post_migrate.disconnect(dispatch_uid="django.contrib.auth.management.create_permissions")


def pytest_collection_finish() -> None:
    """What is there before the first test stays: no collection of garbage need look through it again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)


@pytest.fixture
def cast(db: None) -> Cast:
    return gather()


WRITING = ("INSERT", "UPDATE", "DELETE")


@contextmanager
def _watched_writes() -> Iterator[list[str]]:
    """The writing statements made inside the block, but for the session's own."""
    written: list[str] = []

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if (
            sql.lstrip().split(" ", 1)[0].upper() in {"INSERT", "UPDATE", "DELETE"}
            and "django_session" not in sql
        ):
            written.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield written


@pytest.fixture
def writes() -> Callable[[], AbstractContextManager[list[str]]]:
    return _watched_writes
