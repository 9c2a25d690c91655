"""How full a key system is: the room of each level, what is used of it, and when it runs out.

A key is *made* once it is stored, and *in use* once a core is keyed to it or a copy of it is cut. The pace of
issue is taken from the change keys that came into use in the last twelve months: keys that are only stored
cost nothing to keep and say nothing of how fast the house grows.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, Min, OuterRef, Q, QuerySet, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.systems.models import KeySymbol, KeySystem

DAYS_A_MONTH = 365.25 / 12
MONTHS_OF_PACE = 12
# Beyond so many years a straight line says nothing.
FARTHEST_YEARS = 40

Kind = KeySymbol.Kind


@dataclass(frozen=True)
class LevelUse:
    """One level below the top. ``room`` is None where no progression says how many keys fit."""

    number: int
    kind: str
    room: int | None
    made: int
    in_use: int

    @property
    def left(self) -> int | None:
        return None if self.room is None else max(self.room - self.made, 0)

    @property
    def share(self) -> int | None:
        """Made keys of the room, in whole per cent."""
        return None if not self.room else round(100 * self.made / self.room)


@dataclass(frozen=True)
class Pace:
    """How fast change keys come into use: ``issued`` by the first day of their use, oldest first."""

    issued: list[date]
    a_month: float
    room: int | None
    runs_out: date | None

    @property
    def in_use(self) -> int:
        return len(self.issued)

    @property
    def left(self) -> int | None:
        """Change keys that can still come into use, made or not."""
        return None if self.room is None else max(self.room - self.in_use, 0)


def level_uses(system: KeySystem) -> list[LevelUse]:
    """The levels below the top, from the masters down to the change keys."""
    rooms = _rooms(system)
    rows = (
        _with_use(system.symbols.filter(level__gt=0))
        .values("level", "kind")
        .annotate(made=Count("pk"), in_use=Count("pk", Q(has_core=True) | Q(has_copy=True)))
    )
    made: Counter[int | None] = Counter()
    in_use: Counter[int | None] = Counter()
    for row in rows:
        made[row["level"]] += row["made"]
        in_use[row["level"]] += row["in_use"]
    return [
        LevelUse(level, _kind(system, level), rooms.get(level), made[level], in_use[level])
        for level in range(1, system.levels)
    ]


def pace_of(system: KeySystem, today: date | None = None) -> Pace:
    """The pace of the last twelve months, or of the months since the first issue where it is younger."""
    now = today or timezone.localdate()
    issued = sorted(first_uses(system).values())
    recent = [day for day in issued if now - timedelta(days=365) < day <= now]
    months = MONTHS_OF_PACE
    if issued:
        months = max(1, min(MONTHS_OF_PACE, round((now - issued[0]).days / DAYS_A_MONTH)))
    a_month = len(recent) / months
    room = _rooms(system).get(system.levels - 1)
    return Pace(issued, a_month, room, _runs_out(now, room, len(issued), a_month))


def _runs_out(now: date, room: int | None, in_use: int, a_month: float) -> date | None:
    if room is None or a_month <= 0:
        return None
    days = max(room - in_use, 0) / a_month * DAYS_A_MONTH
    return now + timedelta(days=days) if days < FARTHEST_YEARS * 365 else None


def _kind(system: KeySystem, level: int) -> str:
    return _("Change keys") if level == system.levels - 1 else _("Masters")


def _rooms(system: KeySystem) -> dict[int, int]:
    """By level, how many keys fit below the masters above it; a level is left out where one does not say."""
    rows = (
        system.symbols.filter(kind=Kind.MASTER)
        .values("level")
        .annotate(fits=Sum("room"), silent=Count("pk", Q(room__isnull=True)))
    )
    return {(row["level"] or 0) + 1: row["fits"] for row in rows if not row["silent"]}


def _with_use(symbols: QuerySet[KeySymbol]) -> QuerySet[KeySymbol]:
    """Cores and copies lie above systems in the order of imports, so they are asked through the relation."""
    here = KeySymbol.objects.filter(pk=OuterRef("pk"))
    return symbols.annotate(
        has_core=Exists(here.filter(keyings__isnull=False)),
        has_copy=Exists(here.filter(copies__isnull=False)),
    )


def first_uses(system: KeySystem) -> dict[object, date]:
    """By change key in use, the day on which its first core was keyed or its first copy cut.

    Of a core keyed before that was written down, the day counts on which the key was made.
    """
    keys = system.symbols.filter(kind=Kind.CHANGE)
    found: dict[object, datetime] = {}
    for moment in ("keyings__made_at", "copies__cut_at"):
        relation = moment.partition("__")[0]
        rows = keys.filter(**{f"{relation}__isnull": False}).values_list("pk", "created_at")
        for pk, created_at, first in rows.annotate(first=Min(moment)):
            at = first or created_at
            found[pk] = min(found.get(pk, at), at)
    return {pk: timezone.localdate(at) for pk, at in found.items()}
