"""Who may see and touch places. A foreign thing is not found; a role that does not suffice is forbidden."""

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Site, Space
from keyctl.places.roles import STAFF, TRUSTED_WITH_SECRETS, Role

_HELD_AT = Prepared(
    lambda: (
        Membership.objects.filter(user=Slot("user"), site=Slot("site"))
        .order_by()
        .values_list("role", flat=True)
    )
)


def has_role(actor: User, site: Site, *roles: Role) -> bool:
    return Membership.objects.filter(user=actor, site=site, role__in=roles).exists()


def require_role(actor: User, site: Site, *roles: Role) -> None:
    """404 for a stranger to the site, 403 for a member whose role does not suffice."""
    _require_held(_HELD_AT.rows(user=actor.pk, site=site.pk), roles)


def require_role_somewhere(actor: User, sites: QuerySet[Site], *roles: Role) -> None:
    """The same for a thing that several sites share: one of them suffices."""
    memberships = Membership.objects.filter(user=actor, site__in=sites)
    _require_held(memberships.order_by().values_list("role", flat=True), roles)


def _require_held(held: Iterable[str], roles: tuple[Role, ...]) -> None:
    among = set(held)
    if not among:
        raise Http404
    if not among & set(roles):
        raise PermissionDenied


def require_some(sites: QuerySet[Site]) -> QuerySet[Site]:
    """For what belongs to no one site: 403 for whoever has the sites' role nowhere."""
    if not sites.exists():
        raise PermissionDenied
    return sites


def site_for(actor: User, pk: UUID, *roles: Role) -> Site:
    site = get_object_or_404(Site, pk=pk)
    require_role(actor, site, *roles)
    return site


def is_program(actor: User, site: Site) -> bool:
    """Whoever has a role of people there is judged by that."""
    return not has_role(actor, site, *(role for role in Role if role is not Role.INTEGRATION))


def is_trusted_with_secrets(user: User) -> bool:
    return Membership.objects.filter(user=user, role__in=TRUSTED_WITH_SECRETS).exists()


def visible_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *STAFF)


def visible_buildings(actor: User) -> QuerySet[Building]:
    return Building.objects.filter(site__in=visible_sites(actor)).select_related("site")


def visible_floors(actor: User) -> QuerySet[Floor]:
    return Floor.objects.filter(building__site__in=visible_sites(actor)).select_related("building__site")


def visible_spaces(actor: User) -> QuerySet[Space]:
    sites = visible_sites(actor)
    return Space.objects.filter(floor__building__site__in=sites).select_related("floor__building__site")


def visible_doors(actor: User) -> QuerySet[Door]:
    return Door.objects.at_sites(visible_sites(actor)).with_places()


def visible_housings(actor: User) -> QuerySet[Housing]:
    sites = visible_sites(actor)
    return Housing.objects.filter(door__floor__building__site__in=sites).select_related(
        "door__floor__building__site"
    )


def readable_building(actor: User, pk: UUID) -> Building:
    building = get_object_or_404(Building.objects.select_related("site"), pk=pk)
    require_role(actor, building.site, *STAFF)
    return building


def readable_door(actor: User, pk: UUID) -> Door:
    door = get_object_or_404(Door.objects.with_places(), pk=pk)
    require_role(actor, door.site, *STAFF)
    return door


def administered_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, Role.ADMINISTRATOR)


def require_administrator(actor: User) -> None:
    """403 for whoever administers no site at all."""
    require_some(administered_sites(actor))


def administered_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, Role.ADMINISTRATOR)


def administered_building(actor: User, pk: UUID) -> Building:
    building = get_object_or_404(Building.objects.select_related("site"), pk=pk)
    require_role(actor, building.site, Role.ADMINISTRATOR)
    return building


def administered_floor(actor: User, pk: UUID) -> Floor:
    floor = get_object_or_404(Floor.objects.select_related("building__site"), pk=pk)
    require_role(actor, floor.building.site, Role.ADMINISTRATOR)
    return floor


def administered_space(actor: User, pk: UUID) -> Space:
    space = get_object_or_404(Space.objects.select_related("floor__building__site"), pk=pk)
    require_role(actor, space.site, Role.ADMINISTRATOR)
    return space


def kept_door(actor: User, pk: UUID) -> Door:
    """For whoever changes it on a page; programs have their own way."""
    door = get_object_or_404(Door.objects.with_places(), pk=pk)
    require_role(actor, door.site, Role.ADMINISTRATOR, Role.LOCKSMITH)
    return door


def kept_housing(actor: User, pk: UUID) -> Housing:
    housing = get_object_or_404(Housing.objects.select_related("door__floor__building__site"), pk=pk)
    require_role(actor, housing.door.site, Role.ADMINISTRATOR, Role.LOCKSMITH)
    return housing
