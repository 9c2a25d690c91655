"""The rows behind each resource: what the actor may see, narrowed by the filters of the query."""

from typing import Any

from django.db.models import Prefetch, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.api.access import visible_tokens
from keyctl.api.models import Token
from keyctl.cores.access import visible_cores
from keyctl.cores.models import Core
from keyctl.orders.access import visible_orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import visible_buildings, visible_doors, visible_housings, visible_sites
from keyctl.places.models import Building, Door, Housing, Membership, Site
from keyctl.places.roles import Role

Filters = dict[str, Any]

# The name of a filter in a query, and what it asks of a row.
SITE = {"code": "code"}
BUILDING = {"site": "site"}
DOOR = {"site": "floor__building__site", "building": "floor__building", "number": "number"}
HOUSING = {"site": "door__floor__building__site", "door": "door"}
CORE = {"site": "site", "system": "system__code", "place": "place", "door": "housing__door", "tag": "tag"}
ORDER = {"site": "site", "state": "state", "kind": "kind"}


def sites(actor: User, filters: Filters) -> QuerySet[Site]:
    return visible_sites(actor).filter(**_lookups(SITE, filters))


def buildings(actor: User, filters: Filters) -> QuerySet[Building]:
    return visible_buildings(actor).filter(**_lookups(BUILDING, filters))


def doors(actor: User, filters: Filters) -> QuerySet[Door]:
    rows = visible_doors(actor).filter(**_lookups(DOOR, filters))
    if words := filters.get("q"):
        rows = rows.filter(Q(number__icontains=words) | Q(name__icontains=words))
    return rows


def housings(actor: User, filters: Filters) -> QuerySet[Housing]:
    held = Prefetch("cores", Core.objects.only("id", "tag", "housing"))
    return visible_housings(actor).filter(**_lookups(HOUSING, filters)).prefetch_related(held)


def cores(actor: User, filters: Filters) -> QuerySet[Core]:
    """Not even the sealed pinning is read from the database."""
    return visible_cores(actor).filter(**_lookups(CORE, filters)).defer("pinning", "system__design")


def orders(actor: User, filters: Filters) -> QuerySet[WorkOrder]:
    lines = OrderLine.objects.select_related(
        "housing__door__floor__building", "door__floor__building", "symbol", "system"
    ).order_by("ordinal")
    lines = lines.prefetch_related(_tags("core"), _tags("core_out"))
    return visible_orders(actor).filter(**_lookups(ORDER, filters)).prefetch_related(Prefetch("lines", lines))


def tokens(actor: User) -> QuerySet[Token]:
    """For the tokens' page: each with the sites it reaches (``user.memberships``)."""
    reach = Membership.objects.filter(role=Role.INTEGRATION).select_related("site")
    return visible_tokens(actor).prefetch_related(Prefetch("user__memberships", reach))


def _lookups(names: dict[str, str], filters: Filters) -> dict[str, Any]:
    return {lookup: filters[name] for name, lookup in names.items() if name in filters}


def _tags(relation: str) -> "Prefetch[Any]":
    return Prefetch(relation, Core.objects.only("id", "tag"))
