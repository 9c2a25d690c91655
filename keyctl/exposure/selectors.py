"""Reading how exposed cores are. The caller has fetched the site, system or core through its permission."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, Max, Q, QuerySet, Sum

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.exposure.access import overseen_sites
from keyctl.exposure.assessing import KIND
from keyctl.exposure.marking import ScopeCount, cores_at, marked
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.jobs.models import Job
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

CURRENT = Q(exposure__pinned_at=F("pinned_at"))
# Keys that take a core out and are not its own control key; keys of another system that do anything to it.
WITHDRAWER = Q(withdraws=True) & ~Q(symbol__kind=KeySymbol.Kind.CONTROL, symbol__system=F("core__system"))
STRANGER = ~Q(symbol__system=F("core__system"))


# What was assessed of some cores, added up by the database.
SUMS: dict[str, Any] = {
    "cores": Count("pk"),
    "assessed": Count("pk", filter=CURRENT),
    "turning": Sum("exposure__near_turning", default=0),
    "withdrawing": Sum("exposure__near_withdrawing", default=0),
    "idle_wafers": Sum("exposure__idle_wafers", default=0),
    "worst": Max("exposure__accepts", default=0),
}


@dataclass(frozen=True)
class Sums:
    """What is known of some cores: how many, how many of them as they are now, and the sums."""

    cores: int
    assessed: int
    turning: int
    withdrawing: int
    idle_wafers: int
    worst: int

    @property
    def near(self) -> int:
        return self.turning + self.withdrawing

    @property
    def open(self) -> int:
        """Cores that are not assessed as they are pinned now."""
        return self.cores - self.assessed


@dataclass(frozen=True)
class Figures(Sums):
    """And what their turns tell: cores that such a key opens, and how many turns that are."""

    withdrawers: int
    strangers: int
    against: int


@dataclass(frozen=True)
class Overseen:
    """Which cores are looked at: all in use that somebody oversees, or those of one site or system."""

    actor: User
    site: Site | None = None
    system: KeySystem | None = None

    def cores(self) -> QuerySet[Core]:
        return Core.objects.with_places().filter(self._holds())

    def turns(self) -> QuerySet[Turn]:
        """Told of the core that each turn is joined to: asked by its identifier among all of those
        cores, a turn takes SQLite three times as long."""
        return Turn.objects.filter(self._holds("core__"))

    def _holds(self, core: str = "") -> Q:
        overseen = Q((f"{core}site__in", overseen_sites(self.actor)))
        return overseen & cores_at(self.site, self.system, core)


def worst_first(cores: QuerySet[Core]) -> QuerySet[Core]:
    """Those that let most bittings in first; only cores that were assessed at all."""
    assessed = cores.filter(exposure__isnull=False).select_related("exposure")
    return assessed.order_by("-exposure__accepts", "-exposure__idle_wafers", "-exposure__near_turning", "tag")


def figures_of(overseen: Overseen) -> Figures:
    against = _turns_against(overseen).aggregate(
        withdrawers=Count("core", filter=WITHDRAWER, distinct=True),
        strangers=Count("core", filter=STRANGER, distinct=True),
        against=Count("pk"),
    )
    return Figures(**overseen.cores().order_by().aggregate(**SUMS), **against)


def against_plan(overseen: Overseen) -> QuerySet[Turn]:
    """Keys of both kinds, with all that a list of them shows."""
    places = ("symbol__system", "core__system", "core__housing__door__floor__building__site")
    sealed = ("symbol__bitting", "symbol__system__design", "core__pinning", "core__system__design")
    found = _turns_against(overseen).select_related(*places).defer(*sealed)
    return found.order_by("core__tag", "symbol__symbol")


def _turns_against(overseen: Overseen) -> QuerySet[Turn]:
    return overseen.turns().filter(WITHDRAWER | STRANGER)


def counts_of_site(site: Site) -> list[ScopeCount]:
    return marked(IncidentalCount.objects.filter(site=site))


def counts_of_system(system: KeySystem) -> list[ScopeCount]:
    return marked(IncidentalCount.objects.filter(system=system))


def counts_of_keyways(actor: User) -> list[ScopeCount]:
    """The whole estate's, for the keyways of the systems at the sites that the actor oversees."""
    systems = KeySystem.objects.at_sites(overseen_sites(actor))
    wanted = {(system.format_id, system.keyway) for system in systems}
    counts = IncidentalCount.objects.filter(site__isnull=True, system__isnull=True)
    return marked(count for count in counts if (count.format_id, count.keyway) in wanted)


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


def site_sums(actor: User) -> list[tuple[Site, Sums]]:
    by_site = Overseen(actor).cores().order_by().values_list("site").annotate(**SUMS)
    found = {site: Sums(*sums) for site, *sums in by_site}
    none = Sums(**dict.fromkeys(SUMS, 0))
    return [(site, found.get(site.pk, none)) for site in overseen_sites(actor)]


def cells(cores: QuerySet[Core], across: str, down: str) -> dict[tuple[Any, Any], dict[int, int]]:
    """By what stands down the side and across the top: how many assessed cores let in how many bittings."""
    found: dict[tuple[Any, Any], dict[int, int]] = {}
    assessed = cores.filter(exposure__isnull=False).order_by()
    rows = assessed.values_list(down, across, "exposure__accepts").annotate(number=Count("pk"))
    for below, beside, accepts, number in rows:
        found.setdefault((below, beside), {})[accepts] = number
    return found
