"""Doors, the locks in them, and cores wherever they are.

Which key a core is keyed to is the plan: whoever may have keying schedules may have these.
"""

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.access import visible_cores
from keyctl.cores.listing import find_cores, find_doors
from keyctl.cores.models import Core
from keyctl.exports.tables.columns import Column, Narrowed, Table, moment, words, yes_or_no
from keyctl.places.access import visible_housings
from keyctl.places.forms import EstateFilter
from keyctl.places.models import Door, Housing, Identifier, Site
from keyctl.places.roles import Role
from keyctl.prints.access import PLAN_TAKERS
from keyctl.systems.models import KeySymbol

DOOR_TAKERS = (Role.KEY_DESK, *PLAN_TAKERS)
# As tables of doors name it when they come in.
OWN_LIST = "own list"
NARROWED_BY = ("q", "site", "building")


def _doors(actor: User, said: Narrowed) -> QuerySet[Door]:
    wanted = EstateFilter(actor, said)
    doors = find_doors(actor, wanted.text, site=wanted.chosen_site, building=wanted.chosen_building)
    return doors.filter(floor__building__site__in=DOORS.sites(actor)).prefetch_related(
        "spaces",
        Prefetch("identifiers", Identifier.objects.filter(source=OWN_LIST), to_attr="own_identifiers"),
    )


def _told(actor: User, said: Narrowed) -> dict[str, str]:
    wanted = EstateFilter(actor, said)
    site, building = wanted.chosen_site, wanted.chosen_building
    told = {
        "q": wanted.text,
        "site": site.code if site else "",
        "building": building.code if building else "",
    }
    return {name: word for name, word in told.items() if word}


def _site(actor: User, said: Narrowed) -> Site | None:
    return EstateFilter(actor, said).chosen_site


def _locks(actor: User, said: Narrowed) -> QuerySet[Housing]:
    """Of the doors on the page."""
    found = visible_housings(actor).filter(door__in=_doors(actor, said).order_by().values("pk"))
    found = found.filter(door__floor__building__site__in=LOCKS.sites(actor))
    return _in_order(found.select_related("door__floor__building__site")).prefetch_related(
        Prefetch("cores", Core.objects.select_related("system").prefetch_related(_keys()))
    )


def _cores(actor: User, said: Narrowed) -> QuerySet[Core]:
    """Those of the site that the page shows; of a building, or of found doors, those that sit there. The page
    of cores narrows them by words of its own."""
    wanted = EstateFilter(actor, said)
    cores = visible_cores(actor).filter(site__in=CORES.sites(actor))
    if own := {name: said[name] for name in ("core", "place") if said.get(name)}:
        found = find_cores(actor, own.get("core", ""), place=own.get("place", ""))
        cores = cores.filter(pk__in=found.order_by().values("pk"))
    if wanted.text or wanted.chosen_building:
        cores = cores.filter(housing__door__in=_doors(actor, said).order_by().values("pk"))
    elif wanted.chosen_site:
        cores = cores.filter(site=wanted.chosen_site)
    return cores.order_by("site__code", "tag").prefetch_related(_keys())


def _keys() -> "Prefetch[str, QuerySet[KeySymbol], str]":
    return Prefetch("keyed_to", KeySymbol.objects.order_by("symbol"))


def _in_order(housings: QuerySet[Housing]) -> QuerySet[Housing]:
    place = "door__floor__building"
    return housings.order_by(
        f"{place}__site__code", f"{place}__code", "door__floor__level", "door__number", "kind", "label"
    )


def _lock_words(housing: Housing) -> str:
    return f"{housing.kind}: {housing.label}" if housing.label else str(housing.kind)


def _core_type(door: Door) -> str:
    return next((housing.construction for housing in door.housings.all()), "")


def _core_in(housing: Housing) -> Core | None:
    return next(iter(housing.cores.all()), None)


def _keyed_to(core: Core | None) -> str:
    return ", ".join(key.symbol for key in core.keyed_to.all()) if core else ""


DOORS = Table(
    name="doors",
    page="cores:estate",
    title=gettext_lazy("Doors"),
    takers=DOOR_TAKERS,
    rows=_doors,
    narrowed_by=NARROWED_BY,
    told=_told,
    within=_site,
    columns=(
        Column("Site", lambda door: door.site.code, 10),
        Column("Building", lambda door: door.floor.building.code, 12),
        Column("Floor", lambda door: door.floor.label, 10),
        Column("Level", lambda door: door.floor.level, 8),
        Column("Door number", lambda door: door.number, 14),
        Column("Room", lambda door: door.name, 30),
        Column("Class", lambda door: door.door_class, 12),
        Column("Emergency exit", lambda door: yes_or_no(door.is_egress), 14),
        Column("Fire-rated", lambda door: yes_or_no(door.is_fire_rated), 12),
        Column("Locks", lambda door: ", ".join(_lock_words(each) for each in door.housings.all()), 24),
        Column("Core type", _core_type, 16),
        Column("Spaces", lambda door: ", ".join(space.number for space in door.spaces.all()), 20),
        Column("Hardware set", lambda door: door.hardware_set, 14),
        Column("Stated rating", lambda door: door.fire_rating, 14),
        Column("Stated use", lambda door: door.stated_use, 20),
        Column("Serial number", lambda door: door.serial_number, 16),
        Column("Asset tag", lambda door: door.asset_tag, 16),
        Column("Bar code", lambda door: door.bar_code, 16),
        Column("Own identifier", lambda door: next((i.value for i in door.own_identifiers), ""), 18),
    ),
)

LOCKS = Table(
    name="locks",
    page="cores:estate",
    title=gettext_lazy("Locks and their cores"),
    takers=PLAN_TAKERS,
    rows=_locks,
    narrowed_by=NARROWED_BY,
    told=_told,
    within=_site,
    columns=(
        Column("Site", lambda housing: housing.door.site.code, 10),
        Column("Building", lambda housing: housing.door.floor.building.code, 12),
        Column("Floor", lambda housing: housing.door.floor.label, 10),
        Column("Door number", lambda housing: housing.door.number, 14),
        Column("Room", lambda housing: housing.door.name, 30),
        Column("Lock", lambda housing: housing.kind, 12),
        Column("Lock label", lambda housing: housing.label, 16),
        Column("Core type", lambda housing: housing.construction, 16),
        Column("Core tag", lambda housing: words(_core_in(housing)), 18),
        Column("Keyed to", lambda housing: _keyed_to(_core_in(housing)), 20),
        Column("Pinned", lambda housing: moment(getattr(_core_in(housing), "pinned_at", None)), 24),
    ),
)

CORES = Table(
    name="cores",
    page="cores:estate",
    title=gettext_lazy("Cores"),
    takers=PLAN_TAKERS,
    rows=_cores,
    narrowed_by=(*NARROWED_BY, "core", "place"),
    told=_told,
    within=_site,
    columns=(
        Column("Site", lambda core: core.site.code, 10),
        Column("Core tag", words, 18),
        Column("Core format", lambda core: core.format_id, 16),
        Column("Key system", lambda core: core.system.code if core.system else "", 14),
        Column("Keyed to", _keyed_to, 20),
        Column("Place", lambda core: core.place, 12),
        Column("Building", lambda core: core.housing.door.floor.building.code if core.housing else "", 12),
        Column("Floor", lambda core: core.housing.door.floor.label if core.housing else "", 10),
        Column("Door number", lambda core: core.housing.door.number if core.housing else "", 14),
        Column("Lock", lambda core: _lock_words(core.housing) if core.housing else "", 16),
        Column("Pinned", lambda core: moment(core.pinned_at), 24),
    ),
)
