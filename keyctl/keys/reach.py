"""Who has the copies of some keys, as far as one may look: holders, cabinets, and those that are lost.

A picture has room for few; what is beyond them is counted. The number of queries is always the same.
"""

from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When
from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.access import visible_copies
from keyctl.keys.models import KeyCopy

MOST = 30
State = KeyCopy.State


@dataclass(frozen=True)
class End:
    """Where copies are: with a holder, in a cabinet, or nobody knows."""

    key: str
    kind: str
    name: str
    url: str = ""


@dataclass(frozen=True)
class Had:
    """So many copies of one key at one end."""

    symbol: UUID
    end: End
    count: int


@dataclass(frozen=True)
class Reach:
    """``further`` counts the ends that are not listed, ``beyond`` their copies by key."""

    ends: tuple[End, ...]
    had: tuple[Had, ...]
    further: int
    beyond: dict[UUID, int]


def reach_of(actor: User, symbols: Collection[UUID]) -> Reach:
    copies = visible_copies(actor).filter(symbol__in=symbols).exclude(state=State.DESTROYED)
    ends = _ends(copies)
    had = _had(copies, ends)
    totals = dict(copies.order_by().values_list("symbol").annotate(Count("pk")))
    seen: dict[UUID, int] = {}
    for each in had:
        seen[each.symbol] = seen.get(each.symbol, 0) + each.count
    beyond = {key: total - seen.get(key, 0) for key, total in totals.items() if total > seen.get(key, 0)}
    known = copies.order_by().values("holder", "cabinet").distinct().count()
    return Reach(tuple(ends.values()), had, known - len(ends), beyond)


def _ends(copies: QuerySet[KeyCopy]) -> dict[str, End]:
    """Lost ones first, then who has most."""
    lost_first = Case(When(state=State.LOST, then=Value(0)), default=Value(1), output_field=IntegerField())
    rows = (
        copies.values_list("holder", "holder__name", "cabinet", "cabinet__name")
        .annotate(count=Count("pk"))
        .order_by(lost_first, "-count", "holder__name", "cabinet__name", "holder", "cabinet")[:MOST]
    )
    found = [_end(*row[:4]) for row in rows]
    return {end.key: end for end in found}


def _end(holder: UUID | None, holder_name: str, cabinet: UUID | None, cabinet_name: str) -> End:
    if holder:
        return End(str(holder), _("Holder"), holder_name, reverse("keys:holder", args=[holder]))
    if cabinet:
        return End(str(cabinet), _("Cabinet"), cabinet_name, reverse("keys:cabinet", args=[cabinet]))
    return End("lost", _("Lost"), _("Nobody knows where"))


def _had(copies: QuerySet[KeyCopy], ends: dict[str, End]) -> tuple[Had, ...]:
    there = [UUID(key) for key in ends if key != "lost"]
    listed = Q(holder__in=there) | Q(cabinet__in=there)
    if "lost" in ends:
        listed |= Q(state=State.LOST)
    rows = copies.filter(listed).order_by().values_list("symbol", "holder", "cabinet").annotate(Count("pk"))
    return tuple(
        Had(symbol, ends[str(holder or cabinet or "lost")], count) for symbol, holder, cabinet, count in rows
    )
