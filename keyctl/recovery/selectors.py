"""What the pages of a lost control key show. Nothing here opens the vault."""

from dataclasses import dataclass

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.keys.models import KeyCopy
from keyctl.lib.stages import Stage, stages_at
from keyctl.places.models import Site
from keyctl.recovery.access import visible_cases, workable_sites
from keyctl.recovery.models import ControlApproval, ControlBlank, ControlKeyCase, CoreReading
from keyctl.systems.models import KeySymbol, KeySystem

Way = ControlKeyCase.Way

# How the core leaves its housing decides the way; the format says it.
WAYS = {"sleeve": Way.DECODE, "tip": Way.COPY, "screw": Way.SHACKLE}
AT_HAND = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)
READINGS_NEEDED = 2
CORES_SHOWN = 8
KEYS_SHOWN = 12

STEPS = {
    Way.DECODE: (
        gettext_lazy("Read a core"),
        gettext_lazy("Read a second"),
        gettext_lazy("Second person"),
        gettext_lazy("Show and cut"),
        gettext_lazy("Try and close"),
    ),
    Way.COPY: (
        gettext_lazy("Choose a core"),
        gettext_lazy("Choose a key"),
        gettext_lazy("Second person"),
        gettext_lazy("Cut a blank"),
        gettext_lazy("Try and close"),
    ),
    Way.SHACKLE: (gettext_lazy("Take the core out"), gettext_lazy("Put back and close")),
    Way.NONE: (gettext_lazy("Take the cylinder out"), gettext_lazy("Put back and close")),
}


@dataclass(frozen=True)
class Reach:
    """What stands open to whoever found the key."""

    cores: int
    doors: int
    copies: int
    lost: int


@dataclass(frozen=True)
class KeyReach:
    """An operating key, and how many cores it turns anywhere."""

    symbol: KeySymbol
    cores: int


def way_of(system: KeySystem) -> ControlKeyCase.Way:
    control = engine.load_format(system.format_id).control
    return WAYS[control.kind] if control else Way.NONE


def cases_by_state(actor: User) -> QuerySet[ControlKeyCase]:
    """Open cases first, then the newest."""
    return (
        visible_cases(actor)
        .annotate(
            turn=Case(
                When(state=ControlKeyCase.State.OPEN, then=Value(0)),
                default=Value(1),
                output_field=IntegerField(),
            )
        )
        .order_by("turn", "-opened_at")
    )


def systems_to_start(actor: User) -> list[tuple[Site, KeySystem]]:
    """Every system of the sites where the actor works, site by site."""
    sites = workable_sites(actor).prefetch_related("key_systems")
    return [(site, system) for site in sites for system in site.key_systems.all()]


def standing_readings(case: ControlKeyCase) -> QuerySet[CoreReading]:
    return case.readings.filter(set_aside_at__isnull=True).select_related("core", "read_by")


def all_readings(case: ControlKeyCase) -> QuerySet[CoreReading]:
    return case.readings.select_related("core", "read_by", "set_aside_by")


def open_approval(case: ControlKeyCase) -> ControlApproval | None:
    return case.approvals.filter(used_at__isnull=True, lapsed_at__isnull=True).first()


def was_recovered(case: ControlKeyCase) -> bool:
    """A control key came of the case: its cuts were shown, or a blank was cut."""
    return case.approvals.filter(used_at__isnull=False).exists()


def can_close(case: ControlKeyCase) -> bool:
    """Where a control key exists, a new one has to have come of the case."""
    return case.way in {Way.SHACKLE, Way.NONE} or was_recovered(case)


def is_ready_to_approve(case: ControlKeyCase) -> bool:
    return case.is_open and (case.findings is not None or case.symbol is not None)


def steps_of(case: ControlKeyCase) -> list[Stage]:
    labels = STEPS[Way(case.way)]
    return stages_at(labels, _steps_done(case) if case.is_open else len(labels))


def _steps_done(case: ControlKeyCase) -> int:
    if case.way not in {Way.DECODE, Way.COPY}:
        return 0
    if open_approval(case):
        return 3
    if was_recovered(case):
        return 4
    if case.way == Way.DECODE:
        return 2 if case.findings is not None else min(standing_readings(case).count(), 1)
    return 2 if case.symbol else int(case.core is not None)


def reach_of(case: ControlKeyCase) -> Reach:
    """By the pins of the cores at the case's site, and by its register of keys."""
    control = KeySymbol.Kind.CONTROL
    turns = Turn.objects.filter(
        symbol__system=case.system, symbol__kind=control, withdraws=True, core__site=case.site
    ).exclude(core__place=Core.Place.GONE)
    copies = KeyCopy.objects.filter(symbol__system=case.system, symbol__kind=control, site=case.site)
    found = turns.aggregate(
        cores=Count("core", distinct=True), doors=Count("core__housing__door", distinct=True)
    )
    return Reach(copies=copies.count(), lost=copies.filter(state=KeyCopy.State.LOST).count(), **found)


def cores_at_hand(case: ControlKeyCase) -> QuerySet[Core]:
    """Cores of the system that are in no door, so that nobody has to open one by other means."""
    read = standing_readings(case).values("core")
    cores = Core.objects.filter(site=case.site, system=case.system, place__in=AT_HAND)
    return cores.exclude(pk__in=read).with_places()[:CORES_SHOWN]


def keys_of_core(core: Core | None) -> QuerySet[KeySymbol]:
    """The operating keys that turn the core by its pins."""
    turning = Turn.objects.filter(core=core, operates=True).values("symbol")
    return KeySymbol.objects.exclude(kind=KeySymbol.Kind.CONTROL).filter(pk__in=turning)


def few_keys(core: Core | None) -> list[KeyReach]:
    """Those of them that turn fewest cores come first."""
    if core is None:
        return []
    cores = Count("turns", filter=Q(turns__operates=True))
    keys = keys_of_core(core).annotate(core_count=cores).order_by("core_count", "-level", "symbol")
    return [KeyReach(key, key.core_count) for key in keys[:KEYS_SHOWN]]


def blanks_for(case: ControlKeyCase) -> ControlBlank | None:
    """The register of control blanks that the case takes from."""
    return ControlBlank.objects.filter(site=case.site, keyway=case.system.keyway).first()
