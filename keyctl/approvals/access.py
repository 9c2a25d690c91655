"""Who may see, decide and fulfil requests. A foreign one is not found; too small a role is forbidden."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.approvals.deciders import WORKERS, managed_buildings, steps_of
from keyctl.approvals.models import ApprovalRule, Grant, KeyRequest, Substitute
from keyctl.keys.access import CUTTERS
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Building, Membership, Site
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


def asking_sites(actor: User) -> QuerySet[Site]:
    """Any role at a site lets a person ask for its keys."""
    return Site.objects.for_roles(actor)


def asking_buildings(actor: User) -> QuerySet[Building]:
    return Building.objects.filter(site__in=asking_sites(actor)).select_related("site")


def asking_building(actor: User, pk: UUID) -> Building:
    return get_object_or_404(asking_buildings(actor), pk=pk)


def visible_requests(actor: User) -> QuerySet[KeyRequest]:
    return KeyRequest.objects.filter(
        _own(actor)
        | Q(building__in=managed_buildings(actor))
        | Q(pk__in=steps_of(actor).values("request"))
        | Q(building__site__in=Site.objects.for_roles(actor, *READERS))
    )


def readable_request(actor: User, pk: UUID) -> KeyRequest:
    found = _request(pk)
    if not visible_requests(actor).filter(pk=pk).exists():
        _turn_away(actor, found.building.site)
    return found


def decidable_request(actor: User, pk: UUID) -> KeyRequest:
    """Whoever decides a step of it in any way; the service says why they do not decide it now."""
    found = _request(pk)
    if not steps_of(actor).filter(request=found).exists():
        _turn_away(actor, found.building.site)
    return found


def withdrawable_request(actor: User, pk: UUID) -> KeyRequest:
    found = readable_request(actor, pk)
    if found.requester_id != actor.pk:
        raise PermissionDenied
    return found


def request_to_fulfil(actor: User, pk: UUID) -> KeyRequest:
    """A request that the actor may look for keys for, or have them cut."""
    found = _request(pk)
    require_role(actor, found.building.site, *CUTTERS)
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
    return has_role(actor, site, *READERS) or steps_of(actor).filter(request=request).exists()


def works_the_desk(actor: User, request: KeyRequest) -> bool:
    return has_role(actor, request.building.site, Role.KEY_DESK)


def deciding_sites(actor: User) -> QuerySet[Site]:
    """Where the actor decides requests, or says who does."""
    named = ApprovalRule.objects.filter(people=actor, site__in=Site.objects.for_roles(actor, *WORKERS))
    sites = Site.objects.for_roles(actor, Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)
    return Site.objects.filter(Q(pk__in=sites) | Q(pk__in=named.values("site")))


def deciding_site(actor: User, pk: UUID) -> Site:
    site = get_object_or_404(Site, pk=pk)
    if not deciding_sites(actor).filter(pk=pk).exists():
        _turn_away(actor, site)
    return site


def changeable_rule(actor: User, pk: UUID) -> ApprovalRule:
    rule = get_object_or_404(ApprovalRule.objects.select_related("site"), pk=pk)
    require_role(actor, rule.site, Role.ADMINISTRATOR)
    return rule


def endable_substitute(actor: User, pk: UUID) -> Substitute:
    """Administrators of the site, and the person somebody stands in for."""
    found = get_object_or_404(Substitute.objects.select_related("site", "person", "stands_in"), pk=pk)
    if found.person_id != actor.pk or not asking_sites(actor).filter(pk=found.site_id).exists():
        require_role(actor, found.site, Role.ADMINISTRATOR)
    return found


def _own(actor: User) -> Q:
    return Q(requester=actor) | Q(holder_user=actor)


def _request(pk: UUID) -> KeyRequest:
    found = KeyRequest.objects.select_related(
        "building__site", "holder__site", "requester", "decided_by", "holder_user"
    )
    return get_object_or_404(found, pk=pk)


def _turn_away(actor: User, site: Site) -> None:
    if Membership.objects.filter(user=actor, site=site).exists():
        raise PermissionDenied
    raise Http404
