"""Apps above that watch tables in their own way: their triggers come and go together with those of the feed,
and they are told when rows may have come that no trigger saw."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.db.backends.base.base import BaseDatabaseWrapper

# Its name, which begins with "feed_"; its table; the text that makes it; on PostgreSQL its function's body.
Trigger = tuple[str, str, str, str]


@dataclass(frozen=True)
class Companion:
    """``begin``: everything is to be looked at again; with True nothing that was known before holds."""

    tables: frozenset[str]
    triggers: Callable[[str], Iterator[Trigger]]
    begin: Callable[[BaseDatabaseWrapper, bool], None]


_companions: list[Companion] = []


def add_companion(companion: Companion) -> None:
    _companions.append(companion)


def companions() -> tuple[Companion, ...]:
    return tuple(_companions)
