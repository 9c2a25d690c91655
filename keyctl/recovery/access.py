"""Who may see and work on a lost control key. A foreign case is not found; too small a role is forbidden."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.recovery.models import ControlBlank, ControlKeyCase, CoreReading

WORKERS = (Role.LOCKSMITH,)
APPROVERS = (Role.OFFICER,)
READERS = (Role.LOCKSMITH, Role.OFFICER, Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR)


def readable_sites(actor: User) -> QuerySet[Site]:
    """The sites whose cases the actor may look at; somebody with none anywhere is turned away."""
    return require_some(Site.objects.for_roles(actor, *READERS))


def workable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *WORKERS)


def refuse_idle(actor: User) -> None:
    """For the pages that begin something: only who works somewhere."""
    require_some(workable_sites(actor))


def visible_cases(actor: User) -> QuerySet[ControlKeyCase]:
    return ControlKeyCase.objects.at_sites(readable_sites(actor)).with_names()


def visible_blanks(actor: User) -> QuerySet[ControlBlank]:
    return ControlBlank.objects.filter(site__in=readable_sites(actor)).select_related("site")


def readable_case(actor: User, pk: UUID) -> ControlKeyCase:
    return _case_for(actor, pk, *READERS)


def workable_case(actor: User, pk: UUID) -> ControlKeyCase:
    return _case_for(actor, pk, *WORKERS)


def approvable_case(actor: User, pk: UUID) -> ControlKeyCase:
    """A case of one's own is fetched too: the service says why its opener does not approve it."""
    return _case_for(actor, pk, *APPROVERS)


def workable_reading(actor: User, pk: UUID) -> CoreReading:
    reading = get_object_or_404(CoreReading.objects.select_related("case__site", "core"), pk=pk)
    require_role(actor, reading.case.site, *WORKERS)
    return reading


def readable_blank(actor: User, pk: UUID) -> ControlBlank:
    return _blank_for(actor, pk, *READERS)


def workable_blank(actor: User, pk: UUID) -> ControlBlank:
    return _blank_for(actor, pk, *WORKERS)


def _case_for(actor: User, pk: UUID, *roles: Role) -> ControlKeyCase:
    case = get_object_or_404(ControlKeyCase.objects.with_names(), pk=pk)
    require_role(actor, case.site, *roles)
    return case


def _blank_for(actor: User, pk: UUID, *roles: Role) -> ControlBlank:
    blank = get_object_or_404(ControlBlank.objects.select_related("site"), pk=pk)
    require_role(actor, blank.site, *roles)
    return blank
