"""The checks of history that come round: what is new every hour, the whole every night. What is found is told
to every security officer, and stands in the history itself."""

import hashlib
from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import islice

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.checking import check_history, check_newest
from keyctl.audit.models import Head
from keyctl.audit.services import record
from keyctl.lib.retold import kept_text
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.models import Membership
from keyctl.places.roles import Role

# What was signed since then is read every hour, so that an hour in which no worker ran is made up for.
LOOKED_BACK = timedelta(hours=6)
# A history that somebody made anew differs in every entry.
MOST_FOUND = 1000

FOUND = "history.found-wrong"

SOUND = kept_text(gettext_noop("Nothing is wrong with the history up to entry {number}."))
WRONG = kept_text(
    gettext_noop("Findings: {found}. First: {first} Keep the database and the checkpoints as they are.")
)


def check_new_entries(now: datetime) -> str:
    return _told(check_newest(now - LOOKED_BACK), now)


def check_every_entry(now: datetime) -> str:
    return _told(check_history(), now)


def _told(findings: Iterable[str], now: datetime) -> str:
    found = list(islice(findings, MOST_FOUND))
    if not found:
        head = Head.objects.first()
        return SOUND.format(number=head.number if head else 0)
    tell_found(found, now)
    return WRONG.format(found=len(found), first=found[0])


@transaction.atomic
def tell_found(found: list[str], now: datetime) -> None:
    """Of the same findings once a day."""
    digest = hashlib.sha256("\n".join(found).encode()).hexdigest()
    facts = {"count": len(found), "first": found[0], "path": reverse("history:state")}
    memberships = Membership.objects.filter(role=Role.OFFICER, user__is_active=True).select_related("site")
    sites = {row.user_id: row.site for row in memberships.order_by("-site__code")}
    officers = User.objects.in_bulk(list(sites))
    written = [
        send_notice(
            to=mail_of(officer),
            name=officer.display_name,
            kind="history",
            template="history_found",
            facts=facts,
            site=sites[pk],
            once_key=f"history-{now:%Y-%m-%d}-{digest[:40]}-{pk}",
        )
        for pk, officer in officers.items()
    ]
    if any(written) or not officers:
        sentence = f"found {len(found)} things wrong with the history"
        record(actor=None, verb=FOUND, sentence=sentence, detail={"first": found[0], "digest": digest})
