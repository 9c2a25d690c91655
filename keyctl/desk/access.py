"""Who works at a key desk, and who may read what was done there."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.desk.models import CalendarFeed, TrayLine
from keyctl.keys.access import DESK, READERS
from keyctl.keys.models import Handover, Holder
from keyctl.places.access import require_role, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role

RULERS = (Role.ADMINISTRATOR,)
PAUSERS = (Role.KEY_DESK, Role.ADMINISTRATOR)


def desk_sites(actor: User) -> QuerySet[Site]:
    """The sites whose desk the actor works at; 403 for whoever works at none."""
    sites = Site.objects.for_roles(actor, *DESK)
    if not sites:
        raise PermissionDenied
    return sites


def desk_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *DESK)


def own_line(actor: User, pk: UUID) -> TrayLine:
    """A key on the actor's own counter: another clerk's is not theirs to touch."""
    lines = TrayLine.objects.select_related("tray__site", "copy")
    line = get_object_or_404(lines, pk=pk)
    require_role(actor, line.tray.site, *DESK)
    if line.tray.clerk_id != actor.pk:
        raise Http404
    return line


def readable_act(actor: User, pk: UUID) -> Handover:
    """Whoever reads keys at the site; and who took the keys reads what they signed."""
    acts = Handover.objects.select_related("site", "holder__person", "by", "terms")
    act = get_object_or_404(acts, pk=pk)
    if not is_own(actor, act):
        require_role(actor, act.site, *READERS)
    return act


def is_own(actor: User, act: Handover) -> bool:
    """An own return is one's own; one that brought the keys of several names others too."""
    holder = act.holder
    if holder is None:
        return False
    return actor.pk in {holder.user_id, holder.person.user_id if holder.person else None}


def reminded_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *READERS)


def ruled_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *RULERS)


def pausable_holder(actor: User, pk: UUID) -> Holder:
    holder = get_object_or_404(Holder.objects.select_related("site"), pk=pk)
    require_role(actor, holder.site, *PAUSERS)
    return holder


def own_feed(actor: User, pk: UUID) -> CalendarFeed:
    return get_object_or_404(CalendarFeed, pk=pk, user=actor, ended_at__isnull=True)
