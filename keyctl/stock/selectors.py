"""What the pages about pin stock show."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from keyctl.places.models import Site
from keyctl.stock.demand import Demand, PinKey, demand_at
from keyctl.stock.families import Family, families
from keyctl.stock.models import PinBin, PinMove, PinRole

ROLE_ORDER = {role: nth for nth, role in enumerate(PinRole.values)}


@dataclass(frozen=True)
class Row:
    """One size of a kit: a bin per role, None where the kit has no such pin."""

    size: int
    cells: list[PinBin | None]


@dataclass(frozen=True)
class Shelf:
    """The bins of one family at a site."""

    family: Family
    bins: list[PinBin]

    @property
    def roles(self) -> list[PinRole]:
        held = {bin.role for bin in self.bins}
        return [role for role in PinRole if role in held]

    @property
    def rows(self) -> list[Row]:
        by_pin = {(bin.role, bin.size): bin for bin in self.bins}
        sizes = sorted({bin.size for bin in self.bins})
        return [Row(size, [by_pin.get((role, size)) for role in self.roles]) for size in sizes]

    @property
    def low(self) -> list[PinBin]:
        return [bin for bin in self.bins if bin.is_low]

    @property
    def to_count(self) -> int:
        return sum(bin.count is None or bin.is_doubtful for bin in self.bins)


@dataclass(frozen=True)
class Need:
    """Pins of one role and size that work asks for, against what the bin holds."""

    family: Family
    role: str
    size: int
    needed: int
    bin: PinBin | None

    @property
    def name(self) -> str:
        return _("{pins}, size {size}").format(
            pins=PinRole(self.role).label, size=self.family.size_name(self.role, self.size)
        )

    @property
    def held(self) -> int | None:
        """None where nobody has counted, or where there is no bin yet."""
        return self.bin.count if self.bin else None

    @property
    def low_at(self) -> int:
        return self.bin.low_at if self.bin else 0

    @property
    def short(self) -> int:
        return 0 if self.held is None else max(0, self.needed - self.held)

    @property
    def to_buy(self) -> int:
        """The least number that leaves the bin above its low mark when the open orders are done."""
        return 0 if self.held is None else max(0, self.needed + self.low_at + 1 - self.held)


@dataclass(frozen=True)
class Reorder:
    lines: list[Need]
    # Needed, and nobody knows how many are there.
    to_count: list[Need]
    untold: tuple[str, ...]


def shelves_at(site: Site) -> list[Shelf]:
    known = families()
    by_family: dict[str, list[PinBin]] = {}
    for bin in PinBin.objects.filter(site=site):
        by_family.setdefault(bin.family, []).append(bin)
    shelves = [
        Shelf(known.get(family) or Family(family, ()), in_order(bins)) for family, bins in by_family.items()
    ]
    return sorted(shelves, key=lambda shelf: shelf.family.title)


def needs_at(site: Site, demand: Demand) -> list[Need]:
    """The demand against the bins of the site, one for every pin that is asked for."""
    return [need for need in _compared(site, demand) if need.needed]


def reorder_list(site: Site) -> Reorder:
    """What to buy: bins that are low, or will be when the open orders are done."""
    demand = demand_at(site)
    compared = _compared(site, demand)
    return Reorder(
        lines=[need for need in compared if need.to_buy],
        to_count=[need for need in compared if need.needed and need.held is None],
        untold=demand.untold,
    )


def moves_of(bin: PinBin) -> QuerySet[PinMove]:
    return PinMove.objects.filter(bin=bin).select_related("by")


def in_order(bins: Iterable[PinBin]) -> list[PinBin]:
    return sorted(bins, key=lambda bin: (bin.family, ROLE_ORDER[bin.role], bin.size))


def _compared(site: Site, demand: Demand) -> list[Need]:
    known = families()
    bins: dict[PinKey, PinBin] = {
        (bin.family, bin.role, bin.size): bin for bin in PinBin.objects.filter(site=site)
    }
    needs = [
        Need(known.get(key[0]) or Family(key[0], ()), key[1], key[2], demand.pins[key], bins.get(key))
        for key in {*bins, *demand.pins}
    ]
    return sorted(needs, key=lambda need: (need.family.title, ROLE_ORDER[need.role], need.size))
