"""Who may see and work on a rotation; a foreign one is not found, too small a role is forbidden."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.orders.access import READERS
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave

WORKERS = (Role.LOCKSMITH,)


def visible_rotations(actor: User) -> QuerySet[Rotation]:
    return Rotation.objects.at_sites(Site.objects.for_roles(actor, *READERS)).with_names()


def readable_rotation(actor: User, pk: UUID) -> Rotation:
    return _rotation_for(actor, pk, *READERS)


def workable_rotation(actor: User, pk: UUID) -> Rotation:
    return _rotation_for(actor, pk, *WORKERS)


def workable_door(actor: User, pk: UUID) -> RotationDoor:
    rows = RotationDoor.objects.with_places().select_related("rotation__site")
    door = get_object_or_404(rows, pk=pk)
    require_role(actor, door.rotation.site, *WORKERS)
    return door


def workable_core(actor: User, pk: UUID) -> RotationCore:
    found = get_object_or_404(RotationCore.objects.select_related("rotation__site", "core"), pk=pk)
    require_role(actor, found.rotation.site, *WORKERS)
    return found


def readable_wave(actor: User, pk: UUID) -> Wave:
    wave = get_object_or_404(Wave.objects.select_related("rotation__site", "swap_order"), pk=pk)
    require_role(actor, wave.rotation.site, *READERS)
    return wave


def working_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *WORKERS)


def _rotation_for(actor: User, pk: UUID, *roles: Role) -> Rotation:
    rotation = get_object_or_404(Rotation.objects.with_names(), pk=pk)
    require_role(actor, rotation.site, *roles)
    return rotation
