"""What a site says about requests."""

from typing import Any

from django.db import transaction

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
        raise Refused(f"Keys lie ready between 1 and {MOST_COLLECT_DAYS} days.")
    if cabinet and cabinet.site_id != site.pk:
        raise Refused(f"{cabinet} is not a cabinet of {site}. Choose one of {site}.")
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
