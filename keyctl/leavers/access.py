"""Who may see who goes, and who calls keys back. A foreign case is not found; a small role is forbidden."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.keys.models import Holder
from keyctl.leavers.models import LeaverCase
from keyctl.places.access import require_role, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
# Who tells of somebody's leaving, reminds and pauses.
KEEPERS = (Role.KEY_DESK, Role.OFFICER, Role.ADMINISTRATOR)
# Giving keys up for good weighs a risk.
CLOSERS = (Role.OFFICER,)
RULERS = (Role.ADMINISTRATOR,)


def leaver_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *READERS)


def refuse_outsiders(actor: User) -> None:
    require_some(leaver_sites(actor))


def visible_cases(actor: User) -> QuerySet[LeaverCase]:
    return LeaverCase.objects.filter(holder__site__in=leaver_sites(actor)).select_related(
        "holder__site", "holder__person"
    )


def readable_case(actor: User, pk: UUID) -> LeaverCase:
    found = LeaverCase.objects.select_related(
        "holder__site", "holder__person", "opened_by", "closed_by", "paused_by"
    )
    case = get_object_or_404(found, pk=pk)
    require_role(actor, case.holder.site, *READERS)
    return case


def kept_case(actor: User, pk: UUID) -> LeaverCase:
    case = readable_case(actor, pk)
    require_role(actor, case.holder.site, *KEEPERS)
    return case


def closable_case(actor: User, pk: UUID) -> LeaverCase:
    case = readable_case(actor, pk)
    require_role(actor, case.holder.site, *CLOSERS)
    return case


def leaving_holder(actor: User, pk: UUID) -> Holder:
    holder = get_object_or_404(Holder.objects.select_related("site", "person"), pk=pk)
    require_role(actor, holder.site, *KEEPERS)
    return holder


def ruled_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *RULERS)
