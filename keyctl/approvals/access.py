"""Who may see, decide and fulfil requests. A foreign one is not found; too small a role is forbidden."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Building, BuildingManager, Site
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


def asking_sites(actor: User) -> QuerySet[Site]:
    """Any role at a site lets a person ask for its keys."""
    return Site.objects.for_roles(actor)


def asking_buildings(actor: User) -> QuerySet[Building]:
    return Building.objects.filter(site__in=asking_sites(actor)).select_related("site")


def asking_building(actor: User, pk: UUID) -> Building:
    return get_object_or_404(asking_buildings(actor), pk=pk)


def managed_buildings(actor: User) -> QuerySet[Building]:
    """Named for the building, and holding the role at its site: one without the other decides nothing."""
    sites = Site.objects.for_roles(actor, Role.MANAGER)
    return Building.objects.filter(managers__user=actor, site__in=sites)


def visible_requests(actor: User) -> QuerySet[KeyRequest]:
    return KeyRequest.objects.filter(
        _own(actor)
        | Q(building__in=managed_buildings(actor))
        | Q(building__site__in=Site.objects.for_roles(actor, *READERS))
    )


def readable_request(actor: User, pk: UUID) -> KeyRequest:
    found = _request(pk)
    if not visible_requests(actor).filter(pk=pk).exists():
        _turn_away(actor, found.building.site)
    return found


def decidable_request(actor: User, pk: UUID) -> KeyRequest:
    """The manager's own request is fetched too: the service says why they do not decide it."""
    found = _request(pk)
    require_role(actor, found.building.site, Role.MANAGER)
    if not BuildingManager.objects.filter(user=actor, building=found.building).exists():
        raise PermissionDenied
    return found


def withdrawable_request(actor: User, pk: UUID) -> KeyRequest:
    found = readable_request(actor, pk)
    if found.requester_id != actor.pk:
        raise PermissionDenied
    return found


def workable_grant(actor: User, pk: UUID) -> Grant:
    """A grant that the desk may hand a copy out for."""
    grants = Grant.objects.select_related(
        "request__building__site", "request__holder__site", "symbol__system", "approved_by"
    )
    grant = get_object_or_404(grants, pk=pk)
    require_role(actor, grant.request.building.site, Role.KEY_DESK)
    return grant


def sees_keys(actor: User, request: KeyRequest) -> bool:
    """Whether the page names keys; who only asks sees doors and steps."""
    site = request.building.site
    return has_role(actor, site, *READERS) or manages(actor, request)


def manages(actor: User, request: KeyRequest) -> bool:
    return managed_buildings(actor).filter(pk=request.building_id).exists()


def works_the_desk(actor: User, request: KeyRequest) -> bool:
    return has_role(actor, request.building.site, Role.KEY_DESK)


def _own(actor: User) -> Q:
    return Q(requester=actor) | Q(holder_user=actor)


def _request(pk: UUID) -> KeyRequest:
    found = KeyRequest.objects.select_related(
        "building__site", "holder__site", "requester", "decided_by", "holder_user"
    )
    return get_object_or_404(found, pk=pk)


def _turn_away(actor: User, site: Site) -> None:
    if asking_sites(actor).filter(pk=site.pk).exists():
        raise PermissionDenied
    raise Http404
