"""What else there is about a thing, beside its page: apps above say so here.

Each source is called as ``f(actor, thing)`` and gives only links that the actor may follow.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db.models import Model

from keyctl.accounts.models import User


@dataclass(frozen=True)
class Link:
    label: str
    url: str


Source = Callable[[User, Model], Sequence[Link]]
_sources: list[Source] = []


def add_source(source: Source) -> None:
    _sources.append(source)


def links_beside(actor: User, thing: Model) -> list[Link]:
    return [link for source in _sources for link in source(actor, thing)]
