"""Who may open which list, which kept view, and which act on many rows."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.listing.declaring import Act, List, find_list
from keyctl.listing.models import BulkAct, SavedView
from keyctl.places.models import Membership, Site
from keyctl.places.roles import STAFF


def held_roles(actor: User) -> set[str]:
    return set(Membership.objects.filter(user=actor).order_by().values_list("role", flat=True))


def readable_list(actor: User, name: str) -> List:
    found = find_list(name)
    if found is None:
        raise Http404
    if not held_roles(actor) & set(found.readers):
        raise PermissionDenied
    return found


def offered_acts(found: List, held: set[str]) -> tuple[Act, ...]:
    return tuple(act for act in found.acts if held & set(act.roles))


def sharing_sites(actor: User, found: List) -> QuerySet[Site]:
    """The sites with whose staff a person may share a view: where they read such a list themselves."""
    staff = [role for role in found.readers if role in STAFF]
    return Site.objects.for_roles(actor, *staff)


def visible_views(actor: User, found: List) -> QuerySet[SavedView]:
    """One's own, and what the staff of one's sites shared."""
    views = SavedView.objects.filter(list_name=found.name).select_related("owner", "shared_with")
    return views.filter(Q(owner=actor) | Q(shared_with__in=sharing_sites(actor, found)))


def own_view(actor: User, pk: UUID) -> SavedView:
    """For whoever changes it: nobody else's can be."""
    return get_object_or_404(SavedView.objects.select_related("shared_with"), pk=pk, owner=actor)


def readable_view(actor: User, pk: UUID) -> SavedView:
    view = get_object_or_404(SavedView, pk=pk)
    found = find_list(view.list_name)
    if found is None or not visible_views(actor, found).filter(pk=pk).exists():
        raise Http404
    return view


def own_act(actor: User, pk: UUID) -> BulkAct:
    return get_object_or_404(BulkAct.objects.select_related("actor"), pk=pk, actor=actor)


def declared(bulk: BulkAct) -> tuple[List, Act]:
    """The list and the act of its name; an act that the product no longer has is gone with its rows."""
    found = find_list(bulk.list_name)
    act = found.act(bulk.act) if found else None
    if found is None or act is None:
        raise Http404
    return found, act
