"""What people should know of a cabinet before they open it: whoever has it counted says so here.

Keys lie below those apps; each source is called as ``f(cabinets)`` and gives a mark per cabinet that has one.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from keyctl.keys.models import Cabinet


@dataclass(frozen=True)
class Mark:
    """``label`` is a word or two for a list; ``url`` leads to what the sentence speaks of."""

    label: str
    sentence: str
    url: str


Source = Callable[[Sequence[Cabinet]], Mapping[UUID, Mark]]
_sources: list[Source] = []


def add_source(source: Source) -> None:
    _sources.append(source)


def marks_of(cabinets: Sequence[Cabinet]) -> dict[UUID, Mark]:
    return {pk: mark for source in _sources for pk, mark in source(cabinets).items()}
