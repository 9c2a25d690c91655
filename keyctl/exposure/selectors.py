"""Reading how exposed cores are. The caller has fetched the site, system or core through its permission."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, Max, Q, QuerySet, Sum

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.cores.turning import KeyFamily
from keyctl.exposure.access import overseen_sites
from keyctl.exposure.assessing import KIND
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.jobs.models import Job
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

CURRENT = Q(exposure__pinned_at=F("pinned_at"))
# Keys that take a core out and are not its own control key; keys of another system that do anything to it.
WITHDRAWER = Q(withdraws=True) & ~Q(symbol__kind=KeySymbol.Kind.CONTROL, symbol__system=F("core__system"))
STRANGER = ~Q(symbol__system=F("core__system"))


@dataclass(frozen=True)
class Figures:
    """What is known of some cores: how many, how many of them as they are now, and the sums."""

    cores: int
    assessed: int
    near: int
    withdrawers: int
    strangers: int
    idle_wafers: int
    worst: int

    @property
    def open(self) -> int:
        """Cores that are not assessed as they are pinned now."""
        return self.cores - self.assessed


@dataclass(frozen=True)
class ScopeCount:
    """One count with its mark: whether cores or keys have changed since."""

    count: IncidentalCount
    is_stale: bool


def exposed_cores(
    actor: User, *, site: Site | None = None, system: KeySystem | None = None
) -> QuerySet[Core]:
    """The pinned cores in use that the actor oversees, the most exposed first."""
    cores = Core.objects.at_sites(overseen_sites(actor)).with_places().filter(pinning__isnull=False)
    cores = cores.exclude(place=Core.Place.GONE)
    if site:
        cores = cores.filter(site=site)
    if system:
        cores = cores.filter(system=system)
    return cores


def worst_first(cores: QuerySet[Core]) -> QuerySet[Core]:
    """Those that let most bittings in first; only cores that were assessed at all."""
    assessed = cores.filter(exposure__isnull=False).select_related("exposure")
    return assessed.order_by("-exposure__accepts", "-exposure__idle_wafers", "-exposure__near_turning", "tag")


def figures_of(cores: QuerySet[Core]) -> Figures:
    counted = cores.order_by().aggregate(
        cores=Count("pk"),
        assessed=Count("pk", filter=CURRENT),
        turning=Sum("exposure__near_turning"),
        withdrawing=Sum("exposure__near_withdrawing"),
        idle_wafers=Sum("exposure__idle_wafers"),
        worst=Max("exposure__accepts"),
    )
    against = turns_of(cores).aggregate(
        withdrawers=Count("core", filter=WITHDRAWER, distinct=True),
        strangers=Count("core", filter=STRANGER, distinct=True),
    )
    return Figures(
        cores=counted["cores"],
        assessed=counted["assessed"],
        near=(counted["turning"] or 0) + (counted["withdrawing"] or 0),
        idle_wafers=counted["idle_wafers"] or 0,
        worst=counted["worst"] or 0,
        **against,
    )


def turns_of(cores: QuerySet[Core]) -> QuerySet[Turn]:
    return Turn.objects.filter(core__in=cores.order_by().values("pk"))


def against_plan(cores: QuerySet[Core]) -> QuerySet[Turn]:
    """Keys of both kinds, with all that a list of them shows."""
    found = turns_of(cores).filter(WITHDRAWER | STRANGER)
    places = ("symbol__system", "core__system", "core__housing__door__floor__building__site")
    sealed = ("symbol__bitting", "symbol__system__design", "core__pinning", "core__system__design")
    return found.select_related(*places).defer(*sealed).order_by("core__tag", "symbol__symbol")


def counts_of_site(site: Site) -> list[ScopeCount]:
    return _marked(IncidentalCount.objects.filter(site=site))


def counts_of_system(system: KeySystem) -> list[ScopeCount]:
    return _marked(IncidentalCount.objects.filter(system=system))


def counts_of_keyways(actor: User) -> list[ScopeCount]:
    """The whole estate's, for the keyways of the systems at the sites that the actor oversees."""
    systems = KeySystem.objects.at_sites(overseen_sites(actor))
    wanted = {(system.format_id, system.keyway) for system in systems}
    counts = IncidentalCount.objects.filter(site__isnull=True, system__isnull=True)
    return _marked(count for count in counts if (count.format_id, count.keyway) in wanted)


def _marked(counts: Iterable[IncidentalCount]) -> list[ScopeCount]:
    return [ScopeCount(count, _has_changed(count)) for count in counts]


def _has_changed(count: IncidentalCount) -> bool:
    family = KeyFamily(count.format_id, count.keyway)
    cores = family.pinned().exclude(place=Core.Place.GONE)
    if count.site_id:
        cores = cores.filter(site=count.site_id)
    if count.system_id:
        cores = cores.filter(system=count.system_id)
    now = cores.aggregate(cores=Count("pk"), until=Max("pinned_at"))
    keys = family.symbols().count()
    return (now["cores"], now["until"], keys) != (count.cores, count.pinned_until, count.keys)


def running_job(site: Site) -> Job | None:
    """The job that is assessing the site just now."""
    return Job.objects.filter(kind=KIND, site=site).unfinished().first()


def exposure_of(core: Core) -> CoreExposure | None:
    return CoreExposure.objects.select_related("core").filter(core=core).first()


def turns_against_plan(core: Core) -> dict[str, int]:
    turns = Turn.objects.filter(core=core)
    return turns.aggregate(withdrawers=Count("pk", filter=WITHDRAWER), strangers=Count("pk", filter=STRANGER))


def tops_inside(core: Core) -> list[str]:
    """The top keys of its own system among the keys that turn a core."""
    tops = Turn.objects.filter(core=core, operates=True, symbol__level=0, symbol__system=core.system_id)
    return list(tops.order_by("symbol__symbol").values_list("symbol__symbol", flat=True))


def site_figures(actor: User) -> list[tuple[Site, Figures]]:
    return [(site, figures_of(exposed_cores(actor, site=site))) for site in overseen_sites(actor)]


def cells(cores: QuerySet[Core], across: str, down: str) -> dict[tuple[Any, Any], dict[int, int]]:
    """By what stands down the side and across the top: how many assessed cores let in how many bittings."""
    found: dict[tuple[Any, Any], dict[int, int]] = {}
    assessed = cores.filter(exposure__isnull=False).order_by()
    rows = assessed.values_list(down, across, "exposure__accepts").annotate(number=Count("pk"))
    for below, beside, accepts, number in rows:
        found.setdefault((below, beside), {})[accepts] = number
    return found
