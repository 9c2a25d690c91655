"""How full each group of a system is, month by month: a master with the change keys right below it.

A key counts from the day on which it came into use (see ``capacity``); the room is that of the progression.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Q

from keyctl.lib.drawing.ticks import months_until
from keyctl.systems.capacity import first_uses
from keyctl.systems.models import KeySymbol, KeySystem

MONTHS = 24
Kind = KeySymbol.Kind


@dataclass(frozen=True)
class GroupUse:
    """``used`` is how many keys were in use by the end of each month, the last one today."""

    symbol: str
    room: int | None
    made: int
    used: list[int]

    @property
    def in_use(self) -> int:
        return self.used[-1]

    @property
    def left(self) -> int | None:
        return None if self.room is None else max(self.room - self.in_use, 0)

    @property
    def share(self) -> int | None:
        """In use of the room, in whole per cent."""
        return None if not self.room else round(100 * self.in_use / self.room)


def group_uses(system: KeySystem, today: date) -> list[GroupUse]:
    """The fullest first; in four queries, whatever the system holds."""
    began: dict[Any, list[date]] = {}
    uses = first_uses(system)
    keys = system.symbols.filter(kind=Kind.CHANGE, parent__isnull=False)
    for key, parent in keys.order_by().values_list("pk", "parent"):
        if key in uses:
            began.setdefault(parent, []).append(uses[key])
    of_group = Count("children", Q(children__kind=Kind.CHANGE))
    masters = system.symbols.annotate(made=of_group).filter(made__gt=0).order_by()
    ends = _ends(today)
    found = [
        GroupUse(symbol, room, made, _used(sorted(began.get(pk, [])), ends))
        for pk, symbol, room, made in masters.values_list("pk", "symbol", "room", "made")
    ]
    return sorted(found, key=lambda group: (-(group.share or 0), -group.in_use, group.symbol))


def months_of(today: date) -> list[date]:
    return months_until(today, MONTHS)


def _ends(today: date) -> list[date]:
    """The first day that no longer counts, for each month."""
    return [*months_of(today)[1:], today + timedelta(days=1)]


def _used(began: Sequence[date], ends: Sequence[date]) -> list[int]:
    return [bisect_left(began, end) for end in ends]
