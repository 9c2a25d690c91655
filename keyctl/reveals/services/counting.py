"""The quota, counted under the person's lock: two looks at once cannot both slip under it."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.lib.days import short_moment
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.reveals.errors import Missing, Way
from keyctl.reveals.models import Permission, Reveal
from keyctl.reveals.selectors import Quota, more_left, quota_of, strictest


def allot(actor: User, rows: Sequence[Reveal], sites: Collection[Site], now: datetime) -> None:
    """Each look gets its place under the quota, or one of those that an officer let go beyond it."""
    limits = strictest(sites)
    # Taken from one list, so that looks at work and alone do not both stand on the same place.
    places = [permission for permission, left in more_left(actor, sites, now) for _ in range(left)]
    for is_work in (True, False):
        wanted = [row for row in rows if (row.by == Reveal.By.WORK) == is_work]
        if not wanted:
            continue
        quota = quota_of(actor, limits, is_work=is_work, now=now)
        _beyond(wanted, quota, places, sites)


def _beyond(
    wanted: Sequence[Reveal], quota: Quota, places: list[Permission], sites: Collection[Site]
) -> None:
    rows = wanted[quota.left :]
    if len(places) < len(rows):
        raise _too_many(quota, len(wanted), len(places), sites)
    for row in rows:
        row.more = places.pop(0)


def _too_many(quota: Quota, wanted: int, more: int, sites: Collection[Site]) -> Refused:
    if quota.is_work:
        lets = gettext(
            "One person may look at {an_hour} things an hour and {a_day} a day for work of yours here."
        )
    else:
        lets = gettext("One person may look at {an_hour} things an hour and {a_day} a day here.")
    lets = lets.format(an_hour=quota.an_hour, a_day=quota.a_day)
    left = quota.left + more
    if wanted > 1:
        message = gettext("These are {wanted} things, and {left} may still be looked at now. {lets}").format(
            wanted=wanted, left=left, lets=lets
        )
    else:
        message = gettext("That is more than may be looked at now. {lets}").format(lets=lets)
    if quota.free_at:
        when = short_moment(timezone.localtime(quota.free_at))
        message += " " + gettext("The next place comes free at {when}.").format(when=when)
    return Missing(
        gettext("{message} Wait, or ask a security officer to let you see more.").format(message=message),
        ways=[
            Way(gettext("Ask for more at {site}").format(site=site), reverse("reveals:more", args=[site.pk]))
            for site in sorted(sites, key=str)
        ],
    )
