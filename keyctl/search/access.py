"""What a person may find on pages: by the roles that each thing's own page asks for.

The reach says where to look. What is found is fetched through the rule of its own app once more (``live``).
"""

from collections.abc import Callable, Iterable
from typing import Any, Final
from uuid import UUID

from django.db.models import Q, QuerySet

from keyctl.accounts.models import User
from keyctl.approvals.access import READERS as REQUEST_READERS
from keyctl.approvals.access import visible_requests
from keyctl.approvals.knowing import known_doors
from keyctl.cores.access import visible_cores
from keyctl.directory.access import READERS as PEOPLE_READERS
from keyctl.directory.access import read_sites
from keyctl.keys.access import READERS as KEY_READERS
from keyctl.keys.access import visible_cabinets, visible_copies, visible_holders
from keyctl.keys.models import Holder, Person
from keyctl.orders.access import READERS as ORDER_READERS
from keyctl.orders.access import visible_orders
from keyctl.places.access import administered_sites, visible_sites
from keyctl.places.models import Building, Door, Membership, Site, Space
from keyctl.places.roles import STAFF, Role
from keyctl.search.reach import Reach
from keyctl.search.sources import NOWHERE
from keyctl.systems.access import visible_symbols, visible_systems

EVERYBODY: Final = tuple(Role)
ADMINISTRATOR: Final = (Role.ADMINISTRATOR,)
# Of requests that are somebody's for another reason than a role, the latest.
MOST_OWN: Final = 500

ROLES: Final[dict[str, Iterable[Role]]] = {
    # Whoever only asks for keys finds the doors that they may ask for.
    "door": EVERYBODY,
    "building": EVERYBODY,
    "space": ADMINISTRATOR,
    "core": STAFF,
    "key": STAFF,
    "key-system": STAFF,
    "key-copy": KEY_READERS,
    "cabinet": KEY_READERS,
    "holder": KEY_READERS,
    "member": ADMINISTRATOR,
    "work-order": ORDER_READERS,
    "request": REQUEST_READERS,
}


def reach_of(actor: User) -> Reach:
    held: dict[UUID, set[str]] = {}
    for site, role in Membership.objects.filter(user=actor).order_by().values_list("site", "role"):
        held.setdefault(site, set()).add(role)
    sites = {
        kind: frozenset(site for site, own in held.items() if own & set(roles))
        for kind, roles in ROLES.items()
    }
    if any(own & set(PEOPLE_READERS) for own in held.values()):
        sites["person"] = frozenset({NOWHERE})
    inner = frozenset(site for site, own in held.items() if own & set(STAFF))
    return Reach(sites, _own(actor, sites["request"]), inner)


def _own(actor: User, read_at: frozenset[UUID]) -> dict[str, frozenset[UUID]]:
    holders = _standing_for(actor).order_by().values_list("pk", flat=True)
    requests = visible_requests(actor).exclude(building__site__in=read_at)
    latest = requests.order_by("-asked_at").values_list("pk", flat=True)[:MOST_OWN]
    return {"holder": frozenset(holders), "request": frozenset(latest)}


def _standing_for(actor: User) -> "QuerySet[Holder]":
    """By their own sign-in, else as a person brought in from elsewhere (``keys.access.sign_in_of``)."""
    return Holder.objects.filter(Q(user=actor) | Q(user=None, person__user=actor))


def live(actor: User, kind: str, things: Iterable[UUID]) -> "QuerySet[Any]":
    """Those of the things whose page the actor may open."""
    return _LIVE[kind](actor).filter(pk__in=list(things))


def _doors(actor: User) -> "QuerySet[Any]":
    staffed = visible_sites(actor)
    asked = Site.objects.for_roles(actor).exclude(pk__in=staffed.values("pk"))
    found = Q(floor__building__site__in=staffed)
    for site in asked:
        found |= Q(pk__in=known_doors(actor, site).values("pk"))
    return Door.objects.filter(found).with_places()


def _buildings(actor: User) -> "QuerySet[Any]":
    return Building.objects.filter(site__in=Site.objects.for_roles(actor)).select_related("site")


def _spaces(actor: User) -> "QuerySet[Any]":
    spaces = Space.objects.filter(floor__building__site__in=administered_sites(actor))
    return spaces.select_related("floor__building__site")


def _holders(actor: User) -> "QuerySet[Any]":
    own = _standing_for(actor).values("pk")
    visible = visible_holders(actor).values("pk")
    return Holder.objects.filter(Q(pk__in=visible) | Q(pk__in=own)).select_related("site")


def _people(actor: User) -> "QuerySet[Any]":
    return Person.objects.all() if read_sites(actor).exists() else Person.objects.none()


def _members(actor: User) -> "QuerySet[Any]":
    members = Membership.objects.filter(site__in=administered_sites(actor))
    return User.objects.filter(pk__in=members.values("user"))


def _symbols(actor: User) -> "QuerySet[Any]":
    return visible_symbols(actor).defer("bitting", "fingerprint", "system__design")


_LIVE: Final[dict[str, Callable[[User], "QuerySet[Any]"]]] = {
    "door": _doors,
    "building": _buildings,
    "space": _spaces,
    "core": lambda actor: visible_cores(actor).defer("pinning", "system__design"),
    "key": _symbols,
    "key-system": lambda actor: visible_systems(actor).defer("design"),
    "key-copy": lambda actor: visible_copies(actor).defer("symbol__bitting", "symbol__fingerprint"),
    "cabinet": visible_cabinets,
    "holder": _holders,
    "person": _people,
    "member": _members,
    "work-order": visible_orders,
    "request": lambda actor: visible_requests(actor).select_related("building__site", "holder", "requester"),
}
