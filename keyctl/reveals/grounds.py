"""On what ground somebody may see a thing: work of theirs that names it. Apps above tell which work that is.

A source gets the person and the things and answers for those it knows: an open order, a case. It looks at
many things in a fixed number of queries, since a sheet names hundreds.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Model

from keyctl.accounts.models import User


@dataclass(frozen=True)
class Ground:
    """``words`` go on after "looked at …": for order 12."""

    words: str
    is_own: bool = False
    # Who else agreed to it, where the work has a second person of its own.
    second: User | None = None


Source = Callable[[User, Sequence[Model]], Mapping[UUID, Ground]]

_sources: list[Source] = []


def add_source(source: Source) -> None:
    _sources.append(source)


def work_naming(actor: User, things: Sequence[Model]) -> dict[UUID, Ground]:
    """By identifier of the thing; work that somebody else gave is named before one's own."""
    found: dict[UUID, Ground] = {}
    for source in _sources:
        for pk, ground in source(actor, things).items():
            if pk not in found or (found[pk].is_own and not ground.is_own):
                found[pk] = ground
    return found
