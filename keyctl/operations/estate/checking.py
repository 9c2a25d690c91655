"""The look that is kept: every night by the worker, or by `manage.py check_estate`."""

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.retold import kept_text
from keyctl.notices.services import send_notice
from keyctl.operations.backup.snapshot import snapshot, standing_on
from keyctl.operations.looking import Outcome, look_at_everything
from keyctl.operations.models import EstateCheck
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

KEPT_FOR = timedelta(days=400)
TOLD = (Role.OFFICER, Role.ADMINISTRATOR)
FIRST = kept_text(gettext_noop("{looked} of {laws} laws looked at, {number} breaches. First: {first}"))


def check_estate() -> Outcome:
    """At one moment, while people go on working: a look of many questions must not see two states."""
    with snapshot() as moment, standing_on(moment):
        outcome = look_at_everything()
    keep(outcome)
    return outcome


def check_every_night(_now: datetime) -> str:
    outcome = check_estate()
    if not outcome.breached:
        return outcome.words
    return FIRST.format(**outcome.figures, first=outcome.breached[0].named[0])


@transaction.atomic
def keep(outcome: Outcome) -> EstateCheck:
    """Kept, told to history, and to those who answer for the estate where something is wrong."""
    check = EstateCheck.objects.create(
        seconds=outcome.seconds,
        laws=outcome.laws,
        number=outcome.number,
        breaches=[
            {
                "law": each.law.name,
                "words": each.law.words,
                "remedy": each.law.remedy,
                "number": each.number,
                "named": each.named,
            }
            for each in outcome.breached
        ],
        left_out=outcome.left_out,
    )
    EstateCheck.objects.filter(at__lt=timezone.now() - KEPT_FOR).delete()
    _tell(check)
    record(
        actor=None,
        verb="estate.checked",
        sentence=f"held all data against the laws: {outcome.words}",
        detail={"breaches": {each.law.name: each.number for each in outcome.breached}},
    )
    return check


def _tell(check: EstateCheck) -> None:
    """Once a day for each person, at the first of their sites; the mail names laws and counts, no place."""
    if check.is_clean:
        return
    laws = [f"{each['words']} ({each['number']})" for each in check.breaches]
    for user, site in _answerable().items():
        send_notice(
            to=user.email,
            name=user.display_name,
            kind="estate.breached",
            template="estate_breached",
            facts={"number": check.number, "laws": laws},
            site=site,
            once_key=f"estate {timezone.localdate(check.at)} {user.pk}",
        )


def _answerable() -> dict[User, Site]:
    rows = Membership.objects.filter(role__in=TOLD, user__is_active=True).select_related("user", "site")
    return {row.user: row.site for row in rows.order_by("-site__code")}
