"""What is at stake with a key that somebody takes along: its kind, and the doors it opens by the pins."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Count, Q
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Turn
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

CONTROL, MASTER, CRITICAL, ORDINARY, NOTHING = 4, 3, 2, 1, 0
WORDS = {
    CONTROL: gettext_lazy("Takes cores out"),
    MASTER: gettext_lazy("Master"),
    CRITICAL: gettext_lazy("Critical doors"),
    ORDINARY: gettext_lazy("Ordinary"),
    NOTHING: gettext_lazy("Nothing out"),
}
TAGS = {CONTROL: "tag-bad", MASTER: "tag-bad", CRITICAL: "tag-wait", ORDINARY: "", NOTHING: ""}


@dataclass(frozen=True)
class Reach:
    """Doors of the estate that a key opens by the pins, and how many of them are critical."""

    doors: int = 0
    critical: int = 0


@dataclass(frozen=True)
class KeyRisk:
    copy: KeyCopy
    reach: Reach

    @property
    def rank(self) -> int:
        return rank_of(self.copy.symbol, self.reach)

    @property
    def words(self) -> str:
        return str(WORDS[self.rank])

    @property
    def tag(self) -> str:
        return TAGS[self.rank]


@dataclass
class Stake:
    """All that one person holds at a site."""

    keys: list[KeyRisk] = field(default_factory=list)

    @property
    def rank(self) -> int:
        return max((key.rank for key in self.keys), default=NOTHING)

    @property
    def words(self) -> str:
        return str(WORDS[self.rank])

    @property
    def tag(self) -> str:
        return TAGS[self.rank]

    @property
    def doors(self) -> int:
        """Of the key that opens most: doors of several keys are not added up, for they overlap."""
        return max((key.reach.doors for key in self.keys), default=0)

    @property
    def critical(self) -> int:
        return max((key.reach.critical for key in self.keys), default=0)

    @property
    def weight(self) -> tuple[int, int, int, int]:
        return self.rank, self.critical, self.doors, len(self.keys)


def rank_of(symbol: KeySymbol, reach: Reach) -> int:
    if symbol.is_control:
        return CONTROL
    if symbol.is_master:
        return MASTER
    return CRITICAL if reach.critical else ORDINARY


def reaches(symbols: Iterable[UUID]) -> Mapping[UUID, Reach]:
    """One question for all: the doors with a core that each key turns."""
    wanted = set(symbols)
    critical = Q(core__housing__door__door_class=Door.DoorClass.CRITICAL)
    rows = (
        Turn.objects.filter(symbol__in=wanted, operates=True, core__housing__isnull=False)
        .order_by()
        .values_list("symbol")
        .annotate(
            doors=Count("core__housing__door", distinct=True),
            critical=Count("core__housing__door", distinct=True, filter=critical),
        )
    )
    return {symbol: Reach(doors, grave) for symbol, doors, grave in rows}


def stakes(holders: Iterable[UUID]) -> Mapping[UUID, Stake]:
    """What each holder has out now, with its risk; three questions, however many holders."""
    copies = list(
        KeyCopy.objects.filter(holder__in=set(holders))
        .with_names()
        .select_related("custody")
        .order_by("serial")
    )
    reach = reaches(copy.symbol_id for copy in copies)
    found: dict[UUID, Stake] = defaultdict(Stake)
    for copy in copies:
        if copy.holder_id is not None:
            found[copy.holder_id].keys.append(KeyRisk(copy, reach.get(copy.symbol_id, Reach())))
    for stake in found.values():
        stake.keys.sort(key=lambda key: (-key.rank, -key.reach.critical, -key.reach.doors, key.copy.serial))
    return found
