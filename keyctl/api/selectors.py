"""The rows behind each resource: what the actor may see, narrowed by the filters of the query."""

from typing import Any, TypeVar

from django.db.models import Prefetch, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.api.access import visible_tokens
from keyctl.api.models import Token
from keyctl.cores.access import visible_cores
from keyctl.cores.models import Core
from keyctl.orders.access import visible_orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import (
    visible_buildings,
    visible_doors,
    visible_floors,
    visible_housings,
    visible_sites,
    visible_spaces,
)
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Membership, Site, Space
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

Filters = dict[str, Any]
Place = TypeVar("Place", Building, Floor, Space, Door)

# The name of a filter in a query, and what it asks of a row.
SITE = {"code": "code"}
BUILDING = {"site": "site", "code": "code"}
FLOOR = {"site": "building__site", "building": "building", "level": "level"}
SPACE = {
    "site": "floor__building__site",
    "building": "floor__building",
    "floor": "floor",
    "door": "doors",
    "number": "number",
}
DOOR = {
    "site": "floor__building__site",
    "building": "floor__building",
    "floor": "floor",
    "space": "spaces",
    "number": "number",
    "door_class": "door_class",
    "is_egress": "is_egress",
    "is_fire_rated": "is_fire_rated",
    "hardware_set": "hardware_set",
    "tag": "tag",
}
HOUSING = {
    "site": "door__floor__building__site",
    "building": "door__floor__building",
    "door": "door",
    "kind": "kind",
    "construction": "construction",
    "is_empty": "cores__isnull",
}
CORE = {
    "site": "site",
    "system": "system__code",
    "keyed_to": "keyings__symbol__symbol",
    "place": "place",
    "building": "housing__door__floor__building",
    "door": "housing__door",
    "housing": "housing",
    "tag": "tag",
    "format": "format_id",
}
ORDER = {
    "site": "site",
    "state": "state",
    "kind": "kind",
    "number": "number",
    "part_of": "part_of",
    "opened_since": "opened_at__gte",
    "due_before": "due_on__lt",
    "q": "title__icontains",
}

# Of these facts the database keeps since when.
SINCE = {"is_pinned": "pinned_at", "is_disputed": "disputed_at"}


def sites(actor: User, filters: Filters) -> QuerySet[Site]:
    return visible_sites(actor).filter(_words(filters, "code"), **_lookups(SITE, filters))


def buildings(actor: User, filters: Filters) -> QuerySet[Building]:
    rows = visible_buildings(actor).filter(_words(filters, "code"), **_lookups(BUILDING, filters))
    return _known_as(rows, actor, Identifier.Kind.BUILDING, filters)


def floors(actor: User, filters: Filters) -> QuerySet[Floor]:
    rows = visible_floors(actor).filter(**_lookups(FLOOR, filters))
    return _known_as(rows, actor, Identifier.Kind.FLOOR, filters)


def spaces(actor: User, filters: Filters) -> QuerySet[Space]:
    rows = visible_spaces(actor).filter(_words(filters, "number"), **_lookups(SPACE, filters))
    return _known_as(rows, actor, Identifier.Kind.SPACE, filters)


def doors(actor: User, filters: Filters) -> QuerySet[Door]:
    rows = visible_doors(actor).filter(_words(filters, "number"), **_lookups(DOOR, filters))
    if "system" in filters:
        # Not by a join: a door with two such cores is one door.
        holding = Core.objects.filter(system__code=filters["system"], housing__isnull=False)
        rows = rows.filter(pk__in=holding.values("housing__door"))
    rows = rows.prefetch_related(
        Prefetch("spaces", Space.objects.only("id", "number").order_by("number", "id"))
    )
    return _known_as(rows, actor, Identifier.Kind.DOOR, filters)


def housings(actor: User, filters: Filters) -> QuerySet[Housing]:
    held = Prefetch("cores", Core.objects.only("id", "tag", "housing"))
    return visible_housings(actor).filter(**_lookups(HOUSING, filters)).prefetch_related(held)


def cores(actor: User, filters: Filters) -> QuerySet[Core]:
    """Not even the sealed pinning is read from the database, nor a key's bitting."""
    since = {f"{SINCE[name]}__isnull": not filters[name] for name in SINCE if name in filters}
    keyed = KeySymbol.objects.only("id", "symbol").order_by("symbol")
    rows = visible_cores(actor).filter(**_lookups(CORE, filters), **since)
    return rows.defer("pinning", "system__design").prefetch_related(Prefetch("keyed_to", keyed))


def orders(actor: User, filters: Filters) -> QuerySet[WorkOrder]:
    lines = OrderLine.objects.select_related(
        "housing__door__floor__building", "door__floor__building", "symbol", "system"
    ).order_by("ordinal")
    lines = lines.prefetch_related(_tags("core"), _tags("core_out"))
    rows = visible_orders(actor).filter(_orders_asked(actor, filters), **_lookups(ORDER, filters))
    return rows.prefetch_related(Prefetch("lines", lines))


def _orders_asked(actor: User, filters: Filters) -> Q:
    """What more than one column says."""
    asked = Q()
    if "core" in filters:
        named = Q(core=filters["core"]) | Q(core_out=filters["core"])
        asked &= Q(pk__in=OrderLine.objects.filter(named).values("order"))
    if "door" in filters:
        named = Q(door=filters["door"]) | Q(housing__door=filters["door"])
        asked &= Q(pk__in=OrderLine.objects.filter(named).values("order"))
    if "is_open" in filters:
        unfinished = Q(state__in=WorkOrder.UNFINISHED)
        asked &= unfinished if filters["is_open"] else ~unfinished
    if "is_own" in filters:
        asked &= Q(opened_by=actor) if filters["is_own"] else ~Q(opened_by=actor)
    return asked


def tokens(actor: User) -> QuerySet[Token]:
    """For the tokens' page: each with the sites it reaches (``user.memberships``)."""
    reach = Membership.objects.filter(role=Role.INTEGRATION).select_related("site")
    return visible_tokens(actor).prefetch_related(Prefetch("user__memberships", reach))


def _known_as(
    rows: "QuerySet[Place]", actor: User, kind: Identifier.Kind, filters: Filters
) -> "QuerySet[Place]":
    """Each with what other programs call it; narrowed to the one that all of them call so."""
    known = Identifier.objects.only("id", "source", "value", kind.value).order_by("source", "value")
    rows = rows.prefetch_related(Prefetch("identifiers", known))
    if "global_id" not in filters:
        return rows
    named = Identifier.objects.filter(
        site__in=visible_sites(actor), source=Identifier.GLOBAL_ID, kind=kind, value=filters["global_id"]
    )
    return rows.filter(pk__in=named.values(kind.value))


def _words(filters: Filters, short: str) -> Q:
    """What a list is searched by: the short name or the long one."""
    words = filters.get("q")
    return Q(**{f"{short}__icontains": words}) | Q(name__icontains=words) if words else Q()


def _lookups(names: dict[str, str], filters: Filters) -> dict[str, Any]:
    return {lookup: filters[name] for name, lookup in names.items() if name in filters}


def _tags(relation: str) -> "Prefetch[Any]":
    return Prefetch(relation, Core.objects.only("id", "tag"))
