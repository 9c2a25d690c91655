"""Who may read the mail that went out: it names people and what they hold, so the administrators only."""

from uuid import UUID

from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.notices.models import Notice, NoticeQuerySet
from keyctl.places.access import administered_sites, require_role
from keyctl.places.roles import Role

MAY_READ = (Role.ADMINISTRATOR,)


def visible_notices(actor: User) -> NoticeQuerySet:
    return Notice.objects.at_sites(administered_sites(actor)).select_related("site")


def readable_notice(actor: User, pk: UUID) -> Notice:
    notice = get_object_or_404(Notice.objects.select_related("site"), pk=pk)
    require_role(actor, notice.site, *MAY_READ)
    return notice
