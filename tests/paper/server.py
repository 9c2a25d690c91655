"""A PostgreSQL server of our own that waits for the disk, with the product's tables, and processes that
use it.
"""

import multiprocessing
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.faults.postgresql import Cluster, cluster


@contextmanager
def server() -> Iterator[Cluster]:
    """Its address is the product's from then on, here and in processes that are started."""
    with (
        tempfile.TemporaryDirectory(prefix="keyctl-paper-") as folder,
        cluster(Path(folder) / "server") as made,
    ):
        os.environ["KEYCTL_DATABASE_URL"] = made.url
        yield made
        _let_go()


def _let_go() -> None:
    from django.db import connections

    connections.close_all()


@contextmanager
def product() -> Iterator[Cluster]:
    """With its tables and its triggers, those of history too."""
    with server() as made:
        import django

        django.setup()
        from django.db import connection

        # Parts that run one after the other in one process each have a server of their own.
        connection.close()
        connection.settings_dict["PORT"] = str(made.port)
        yield made


def together(count: int, work: Callable[..., Any], *arguments: Any) -> list[Any]:
    """What so many processes gave; each is handed its number and a barrier to begin together."""
    context = multiprocessing.get_context("spawn")
    with context.Manager() as manager:
        barrier = manager.Barrier(count)
        with context.Pool(count) as pool:
            jobs = [(nth, barrier, *arguments) for nth in range(count)]
            return pool.starmap(work, jobs)
