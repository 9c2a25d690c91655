"""An area: the housings that a rotation is for, the keys they have now, and the cores to give for it."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from keyctl.cores.models import Core, Keying
from keyctl.cores.waiting import keys_without_core
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing, Site
from keyctl.rotations.models import RotationCore
from keyctl.systems.models import KeySymbol, KeySystem

AT_ONCE = 500


@dataclass(frozen=True)
class Chosen:
    """What somebody chose: whole buildings, floors, single doors, or the open doors of a swap order."""

    buildings: tuple[UUID, ...] = ()
    floors: tuple[UUID, ...] = ()
    doors: tuple[UUID, ...] = ()
    order: UUID | None = None

    @property
    def is_empty(self) -> bool:
        return not (self.buildings or self.floors or self.doors or self.order)


@dataclass(frozen=True)
class Area:
    """Housings with a pinned core that is keyed to something; the others are named, for they are left out."""

    housings: tuple[Housing, ...]
    without_core: tuple[Housing, ...]
    taken: tuple[Housing, ...]
    cores: dict[UUID, Core]
    keyed: dict[UUID, tuple[KeySymbol, ...]]

    @property
    def doors_by_format(self) -> dict[str, int]:
        return dict(Counter(self.cores[housing.pk].format_id for housing in self.housings))

    @property
    def old_keys(self) -> list[KeySymbol]:
        found = {key.pk: key for keys in self.keyed.values() for key in keys}
        return sorted(found.values(), key=_as_numbered)


def _as_numbered(key: KeySymbol) -> tuple[str, int, str, int]:
    """AA2 before AA10."""
    return key.system.code, key.level or 0, key.symbol.rstrip("0123456789"), key.ordinal


def housings_of(site: Site, chosen: Chosen) -> QuerySet[Housing]:
    """In the order of a route."""
    at_site = Housing.objects.filter(door__floor__building__site=site)
    wanted = Q(door__floor__building__in=chosen.buildings)
    wanted |= Q(door__floor__in=chosen.floors) | Q(door__in=chosen.doors)
    if chosen.order is not None:
        waiting = OrderLine.objects.filter(order=chosen.order, order__kind=WorkOrder.Kind.SWAP)
        wanted |= Q(pk__in=waiting.filter(state=OrderLine.State.OPEN).values("housing"))
    return (
        at_site.filter(wanted)
        .select_related("door__floor__building__site")
        .order_by("door__floor__building__code", "door__floor__level", "door__number", "pk")
    )


def area_of(housings: Iterable[Housing]) -> Area:
    listed = list(housings)
    cores = _cores_in([housing.pk for housing in listed])
    keyed = _keyed([core.pk for core in cores.values()])
    by_housing = {pk: keyed[core.pk] for pk, core in cores.items() if keyed.get(core.pk)}
    busy = _in_running_rotations([housing.pk for housing in listed])
    fit = [housing for housing in listed if housing.pk in by_housing and housing.pk not in busy]
    return Area(
        housings=tuple(fit),
        without_core=tuple(housing for housing in listed if housing.pk not in by_housing),
        taken=tuple(housing for housing in listed if housing.pk in busy),
        cores={housing.pk: cores[housing.pk] for housing in fit},
        keyed={housing.pk: by_housing[housing.pk] for housing in fit},
    )


def spares_at(site: Site, formats: Iterable[str]) -> dict[str, list[Core]]:
    """Free cores by format, those without pins first: their pins are missed by nobody."""
    found: dict[str, list[Core]] = {name: [] for name in formats}
    rows = Core.objects.filter(site=site, format_id__in=found, place__in=(Core.Place.SHELF, Core.Place.BENCH))
    standing = OrderLine.objects.filter(state=OrderLine.State.OPEN)
    rows = rows.exclude(pk__in=standing.filter(core__isnull=False).values("core"))
    rows = rows.exclude(pk__in=standing.filter(meant__isnull=False).values("meant"))
    # Such as go back into a door that is kept shut.
    going_back = standing.filter(shut_at__isnull=False, lifted_at__isnull=True, core_out__isnull=False)
    rows = rows.exclude(pk__in=going_back.values("core_out"))
    rows = rows.filter(disputed_at__isnull=True)
    rows = rows.exclude(pk__in=RotationCore.objects.filter(is_running=True).values("core"))
    for core in rows.order_by("pinned_at", "tag"):
        found[core.format_id].append(core)
    return {name: sorted(cores, key=lambda core: core.is_pinned) for name, cores in found.items()}


def proposed_keys(old_keys: Sequence[KeySymbol], system: KeySystem) -> dict[UUID, KeySymbol]:
    """For each old key of the system's format a new one: of the same symbol in another system, else the next
    that no core is keyed to, below the same master where it is the same system."""
    fitting = [key for key in old_keys if key.system.format_id == system.format_id]
    found: dict[UUID, KeySymbol] = {}
    named = {key.symbol: key for key in _usable(system)} if _is_another(fitting, system) else {}
    for key in fitting:
        if key.system_id != system.pk and key.symbol in named:
            found[key.pk] = named[key.symbol]
    return found | _next_free([key for key in fitting if key.pk not in found], system, found)


def _is_another(old_keys: Sequence[KeySymbol], system: KeySystem) -> bool:
    return any(key.system_id != system.pk for key in old_keys)


def _usable(system: KeySystem) -> QuerySet[KeySymbol]:
    return system.symbols.filter(retired_at__isnull=True).exclude(kind=KeySymbol.Kind.CONTROL)


def _next_free(
    old_keys: Sequence[KeySymbol], system: KeySystem, taken: dict[UUID, KeySymbol]
) -> dict[UUID, KeySymbol]:
    used = {key.pk for key in taken.values()} | {key.pk for key in old_keys}
    by_master: dict[UUID | None, list[KeySymbol]] = defaultdict(list)
    for key in old_keys:
        if not key.is_master:
            by_master[key.parent_id if key.system_id == system.pk else None].append(key)
    found: dict[UUID, KeySymbol] = {}
    for master, keys in by_master.items():
        below = KeySymbol.objects.filter(pk=master).first() if master else None
        free = [
            key for key in keys_without_core(system, below)[: len(keys) + len(used)] if key.pk not in used
        ]
        pairs = dict(zip((key.pk for key in keys), free, strict=False))
        used |= {key.pk for key in pairs.values()}
        found |= pairs
    return found


def _cores_in(housings: Sequence[UUID]) -> dict[UUID, Core]:
    found: dict[UUID, Core] = {}
    for part in _parts(housings):
        for core in Core.objects.filter(housing__in=part, system__isnull=False).select_related("system"):
            if core.housing_id:
                found[core.housing_id] = core
    return found


def _keyed(cores: Sequence[UUID]) -> dict[UUID, tuple[KeySymbol, ...]]:
    found: dict[UUID, list[KeySymbol]] = defaultdict(list)
    for part in _parts(cores):
        rows = Keying.objects.filter(core__in=part).select_related("symbol__system")
        for keying in rows.order_by("symbol__symbol"):
            found[keying.core_id].append(keying.symbol)
    return {core: tuple(keys) for core, keys in found.items()}


def _in_running_rotations(housings: Sequence[UUID]) -> set[UUID]:
    found: set[UUID] = set()
    for part in _parts(housings):
        rows = Housing.objects.filter(pk__in=part, rotations__is_running=True)
        found |= set(rows.values_list("pk", flat=True))
    return found


def _parts(listed: Sequence[UUID]) -> Iterable[Sequence[UUID]]:
    for start in range(0, len(listed), AT_ONCE):
        yield listed[start : start + AT_ONCE]
