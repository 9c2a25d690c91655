"""A run of the demo that is stopped again and again, and always taken up."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.audit.services import record
from keyctl.demo import build, parts, tried
from keyctl.feed.services import unwatched
from keyctl.jobs.running import Running

# Of each stage some, stopped when all is written but the mark.
INSIDE = {"site 2", "GGM1", "PLANT-E1", "keys 2", "stock", "orders", "requests", "rotation", "field"}
BATCHES_BEFORE_A_STOP = 3


class Stopped(BaseException):
    """As sudden as a signal: no `except Exception` sees it."""


def build_with_stops(patch: pytest.MonkeyPatch) -> int:
    """Stopped after each part, and inside some; returns how often."""
    patch.setattr(build, "unwatched", unwatched_in_a_test)
    patch.setattr(parts.Progress, "leave", then_stop(parts.Progress.leave))
    patch.setattr(parts, "record", stop_inside(record))
    patch.setattr(tried, "_keep_place", stop_once(tried._keep_place, BATCHES_BEFORE_A_STOP))
    patch.setattr(Running, "save", stop_once(Running.save, BATCHES_BEFORE_A_STOP))
    stops = 0
    while True:
        try:
            build.build_estate(lambda _line: None)
        except Stopped:
            stops += 1
        else:
            return stops


def then_stop(work: Callable[..., Any]) -> Callable[..., Any]:
    def stopped(*args: Any) -> None:
        work(*args)
        raise Stopped

    return stopped


def stop_inside(work: Callable[..., Any]) -> Callable[..., Any]:
    left = set(INSIDE)

    def stopped(**facts: Any) -> Any:
        if facts["detail"]["part"] in left:
            left.remove(facts["detail"]["part"])
            raise Stopped
        return work(**facts)

    return stopped


def stop_once(work: Callable[..., Any], at: int) -> Callable[..., Any]:
    calls = 0

    def stopped(*args: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls == at:
            raise Stopped
        return work(*args)

    return stopped


@contextmanager
def unwatched_in_a_test(lifted: BaseDatabaseWrapper) -> Iterator[None]:
    """All is one transaction here: what PostgreSQL put off to its end is done first, as a commit would."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
    with unwatched(lifted):
        yield
