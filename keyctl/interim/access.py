"""Who sees and who marks cores that are in a door for a time."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.interim.models import Interim
from keyctl.places.access import require_role, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
MARKERS = (Role.LOCKSMITH,)


def reading_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *READERS)


def refuse_outsiders(actor: User) -> None:
    require_some(reading_sites(actor))


def markable_core(actor: User, pk: UUID) -> Core:
    core = get_object_or_404(Core.objects.with_places(), pk=pk)
    require_role(actor, core.site, *MARKERS)
    return core


def workable_interim(actor: User, pk: UUID) -> Interim:
    found = get_object_or_404(Interim.objects.with_names(), pk=pk)
    require_role(actor, found.site, *MARKERS)
    return found
