"""What a site says about requests."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.custom import settings_of
from keyctl.approvals.models import MOST_COLLECT_DAYS, RequestSettings
from keyctl.audit.services import record
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role


@transaction.atomic
def change_settings(
    *, actor: User, site: Site, collect_days: int, cabinet: Cabinet | None = None, **facts: Any
) -> RequestSettings:
    """``facts`` are critical_doors, collect_at and names_deciders."""
    require_role(actor, site, Role.ADMINISTRATOR)
    if not 1 <= collect_days <= MOST_COLLECT_DAYS:
        raise Refused(
            _("Keys lie ready between 1 and {most_collect_days} days.").format(
                most_collect_days=MOST_COLLECT_DAYS
            )
        )
    if cabinet and cabinet.site_id != site.pk:
        raise Refused(
            _("{cabinet} is not a cabinet of {site}. Choose one of {site}.").format(
                cabinet=cabinet, site=site
            )
        )
    settings = settings_of(site)
    for name, fact in {"collect_days": collect_days, "cabinet": cabinet, **facts}.items():
        setattr(settings, name, fact)
    settings.save()
    record(
        actor=actor,
        verb="request_settings.changed",
        sentence=f"changed what holds for requests at {site}: keys lie ready for {collect_days} days",
        site_id=site.pk,
        subjects=[settings],
        detail={"critical_doors": settings.critical_doors, "names_deciders": settings.names_deciders},
    )
    return settings
