"""What the first page is made of: a question, a few lines that answer it, and where the rest stands.

Apps above this one add blocks of their own (``offer``); those below are asked by ``selectors``.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.places.roles import Role

# More lines than these are read by nobody at seven in the morning.
SHOWN = 5
# Nobody needs to know how many more there are; and counting them would grow with the estate.
MOST_COUNTED = 1000


class Tone(StrEnum):
    """How a mark looks; its words say the same."""

    BAD = "bad"
    WARN = "warn"
    WAIT = "wait"
    INFO = "info"
    GOOD = "good"


@dataclass(frozen=True)
class Mark:
    tone: Tone
    words: str


@dataclass(frozen=True)
class Act:
    """What to do next about a line; ``of`` tells it apart for whoever hears the page."""

    label: str
    url: str
    of: str = ""


@dataclass(frozen=True)
class Line:
    """``what`` leads to its page; ``about`` says where and when in a sentence or less."""

    what: str
    url: str = ""
    about: str = ""
    mark: Mark | None = None
    act: Act | None = None


@dataclass(frozen=True)
class Block:
    """One question of the day. ``total`` counts what there is, up to one more than ``MOST_COUNTED``."""

    question: str
    lines: Sequence[Line]
    # Said where there is nothing: an answer, too.
    empty: str
    total: int = 0
    # The full list.
    more: Act | None = None

    @property
    def rest(self) -> int:
        return max(0, self.total - len(self.lines))

    @property
    def is_beyond_counting(self) -> bool:
        return self.total > MOST_COUNTED


@dataclass(frozen=True)
class Morning:
    """Whose page it is, when, and where they hold which role: read once."""

    actor: User
    now: datetime
    today: date
    sites: dict[str, frozenset[UUID]]

    @property
    def roles(self) -> frozenset[str]:
        return frozenset(self.sites)

    def at(self, *roles: Role) -> list[UUID]:
        """The sites at which the person holds one of the roles."""
        return sorted(frozenset[UUID]().union(*(self.sites.get(role, frozenset()) for role in roles)))

    def sites_of(self, *roles: Role) -> QuerySet[Site]:
        return Site.objects.filter(pk__in=self.at(*roles))


# None where the question is not this person's after all.
Maker = Callable[[Morning], Block | None]


@dataclass(frozen=True)
class Asked:
    """A question, whose it is, and what answers it. It stands with the first of the roles that is held."""

    roles: tuple[Role, ...]
    make: Maker
    comes_first: bool = False


_offered: list[Asked] = []


def offer(roles: Iterable[Role], make: Maker, *, comes_first: bool = False) -> None:
    """For apps above this one: a block at the end, or at the head, of the first of these roles."""
    _offered.append(Asked(tuple(roles), make, comes_first))


def offered() -> tuple[Asked, ...]:
    return tuple(_offered)


def counted(rows: "QuerySet[Any]") -> int:
    """How many there are, counted no further than somebody wants to know."""
    return rows.order_by()[: MOST_COUNTED + 1].count()
