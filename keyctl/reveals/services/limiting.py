"""How much one person may see: an administrator's word, site by site, within bounds."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.reveals.access import SETTERS
from keyctl.reveals.models import (
    MOST_ALONE_A_DAY,
    MOST_ALONE_AN_HOUR,
    MOST_AT_WORK_A_DAY,
    MOST_AT_WORK_AN_HOUR,
    Limits,
)

FIELDS = ("alone_an_hour", "alone_a_day", "at_work_an_hour", "at_work_a_day")


@transaction.atomic
def set_limits(
    *,
    actor: User,
    site: Site,
    version: int,
    alone_an_hour: int,
    alone_a_day: int,
    at_work_an_hour: int,
    at_work_a_day: int,
) -> Limits:
    require_role(actor, site, *SETTERS)
    _refuse_bounds(_("without work"), alone_an_hour, alone_a_day, (MOST_ALONE_AN_HOUR, MOST_ALONE_A_DAY))
    _refuse_bounds(_("at work"), at_work_an_hour, at_work_a_day, (MOST_AT_WORK_AN_HOUR, MOST_AT_WORK_A_DAY))
    Limits.objects.get_or_create(site=site)
    found = Limits.objects.select_for_update().get(site=site)
    if found.version != version:
        raise Conflict(_("Somebody changed these limits since you looked. Look again, then decide."))
    found.alone_an_hour, found.alone_a_day = alone_an_hour, alone_a_day
    found.at_work_an_hour, found.at_work_a_day = at_work_an_hour, at_work_a_day
    found.version += 1
    found.save(update_fields=[*FIELDS, "version"])
    record(
        actor=actor,
        verb="reveal.limits_set",
        sentence=f"set how much one person may see at {site}: {alone_an_hour} an hour and {alone_a_day} a "
        f"day, at work {at_work_an_hour} and {at_work_a_day}",
        site_id=site.pk,
        subjects=[site],
        detail={name: getattr(found, name) for name in FIELDS},
    )
    return found


def _refuse_bounds(what: str, an_hour: int, a_day: int, most: tuple[int, int]) -> None:
    if not (1 <= an_hour <= most[0] and an_hour <= a_day <= most[1]):
        raise Refused(
            _("Looks {what}: 1 to {most} an hour, and no fewer a day than an hour, at most {most_2}.").format(
                what=what, most=most[0], most_2=most[1]
            )
        )
