"""Who may read an event: the staff of its site; one of no site, whoever answers for a site as a whole."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.places.access import require_some, visible_sites
from keyctl.places.models import Membership
from keyctl.places.roles import Role

ANSWERING = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


def sites_read(actor: User) -> frozenset[UUID | None]:
    """The sites whose events the actor may read; None stands for what belongs to no site."""
    sites: set[UUID | None] = set(visible_sites(actor).values_list("pk", flat=True))
    if Membership.objects.filter(user=actor, role__in=ANSWERING).exists():
        sites.add(None)
    return frozenset(sites)


def readable_event(actor: User, pk: int) -> Event:
    """404 for a stranger to its site, 403 for whoever only asks for keys there."""
    event = get_object_or_404(Event, pk=pk)
    if event.site_id in sites_read(actor):
        return event
    if Membership.objects.filter(user=actor, site=event.site_id).exists():
        raise PermissionDenied
    raise Http404


def require_staff(actor: User) -> None:
    require_some(visible_sites(actor))
