"""Who may see tablets and cases. A foreign thing is not found; a role that does not suffice is forbidden."""

from uuid import UUID

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.field.models import Device, FieldPhoto, ReconcileCase
from keyctl.orders.access import readable_order
from keyctl.orders.models import WorkOrder
from keyctl.places.access import readable_door, require_role, require_some
from keyctl.places.models import Door, Site
from keyctl.places.roles import Role

# Who settles what is disputed, and who takes in what a withdrawn tablet told.
SETTLERS = (Role.LOCKSMITH,)
CASE_READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
DEVICE_KEEPERS = (Role.ADMINISTRATOR,)
PHOTO_READERS = (Role.LOCKSMITH, Role.OFFICER)


def field_sites(actor: User) -> QuerySet[Site]:
    """The sites where the actor works at doors."""
    return Site.objects.for_roles(actor, Role.LOCKSMITH)


def require_locksmith(actor: User) -> None:
    require_some(field_sites(actor))


def visible_cases(actor: User) -> QuerySet[ReconcileCase]:
    return ReconcileCase.objects.at_sites(Site.objects.for_roles(actor, *CASE_READERS)).with_names()


def readable_case(actor: User, pk: UUID) -> ReconcileCase:
    return _case_for(actor, pk, *CASE_READERS)


def settleable_case(actor: User, pk: UUID) -> ReconcileCase:
    return _case_for(actor, pk, *SETTLERS)


def visible_devices(actor: User) -> QuerySet[Device]:
    """One's own at the sites where one works, and all of the sites that one administers."""
    kept = Site.objects.for_roles(actor, *DEVICE_KEEPERS)
    own = Q(owner=actor, site__in=field_sites(actor))
    return Device.objects.filter(own | Q(site__in=kept)).with_names()


def kept_device(actor: User, pk: UUID) -> Device:
    device = get_object_or_404(Device.objects.with_names(), pk=pk)
    require_keeper(actor, device)
    return device


def require_keeper(actor: User, device: Device) -> None:
    roles = (*DEVICE_KEEPERS, Role.LOCKSMITH) if device.owner_id == actor.pk else DEVICE_KEEPERS
    require_role(actor, device.site, *roles)


def visible_photos(actor: User) -> QuerySet[FieldPhoto]:
    return FieldPhoto.objects.to_look_at().filter(site__in=Site.objects.for_roles(actor, *PHOTO_READERS))


def readable_photo(actor: User, pk: UUID) -> FieldPhoto:
    photo = get_object_or_404(FieldPhoto.objects.to_look_at(), pk=pk)
    if photo.site is None:
        raise Http404
    require_role(actor, photo.site, *PHOTO_READERS)
    return photo


def photographed_door(actor: User, pk: UUID) -> Door:
    door = readable_door(actor, pk)
    require_role(actor, door.site, *PHOTO_READERS)
    return door


def photographed_order(actor: User, pk: UUID) -> WorkOrder:
    order = readable_order(actor, pk)
    require_role(actor, order.site, *PHOTO_READERS)
    return order


def _case_for(actor: User, pk: UUID, *roles: Role) -> ReconcileCase:
    case = get_object_or_404(ReconcileCase.objects.with_names(), pk=pk)
    require_role(actor, case.site, *roles)
    return case


def sending_device(actor: User, pk: UUID | None) -> Device | None:
    """The tablet whose events somebody hands in: one's own, or one of a site where one works."""
    if pk is None:
        return None
    known = Q(owner=actor) | Q(site__in=field_sites(actor))
    return Device.objects.with_names().filter(known, pk=pk).first()


def require_keeper_somewhere(actor: User) -> None:
    """The list of tablets is for who works with them and who looks after them."""
    require_some(Site.objects.for_roles(actor, Role.LOCKSMITH, *DEVICE_KEEPERS))


def require_reader_somewhere(actor: User) -> None:
    require_some(Site.objects.for_roles(actor, *CASE_READERS))
