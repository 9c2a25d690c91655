"""Calendar feeds: made, ended, and found by their secret."""

import hashlib
import secrets

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.desk.calendar.feeding import OF_SITE, OWN
from keyctl.desk.models import CalendarFeed
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Site

MOST_FEEDS = 12


@transaction.atomic
def make_feed(*, actor: User, shows: str = "", site: Site | None = None) -> tuple[CalendarFeed, str]:
    """The feed and its secret, which is told this once and kept nowhere. Of due keys, if nothing is said."""
    shows = shows or (CalendarFeed.Shows.KEYS if site else CalendarFeed.Shows.OWN_KEYS)
    _require(actor, shows, site)
    User.objects.select_for_update().get(pk=actor.pk)
    if CalendarFeed.objects.filter(user=actor, ended_at__isnull=True).count() >= MOST_FEEDS:
        raise Refused(
            _("You have {number} calendar addresses already. End one that you do not use.").format(
                number=MOST_FEEDS
            )
        )
    secret = _new_secret()
    feed = CalendarFeed.objects.create(user=actor, shows=shows, site=site, digest=digest_of(secret))
    _tell(actor, feed, "made", "made a calendar address")
    return feed, secret


@transaction.atomic
def renew_feed(*, actor: User, feed: CalendarFeed) -> tuple[CalendarFeed, str]:
    """Another secret for the same calendar: the address before is dead from now on."""
    _require(actor, feed.shows, feed.site)
    secret = _new_secret()
    alive = CalendarFeed.objects.filter(pk=feed.pk, user=actor, ended_at__isnull=True)
    if not alive.update(digest=digest_of(secret), made_at=timezone.now(), last_read_on=None):
        raise Refused(_("This calendar address has ended. Make a new one."))
    _tell(actor, feed, "renewed", "renewed a calendar address")
    return feed, secret


@transaction.atomic
def end_feed(*, actor: User, feed: CalendarFeed) -> CalendarFeed:
    """Its address is dead from now on."""
    ended = CalendarFeed.objects.filter(pk=feed.pk, user=actor, ended_at__isnull=True)
    if not ended.update(ended_at=timezone.now()):
        raise Refused(_("This calendar address has ended already."))
    _tell(actor, feed, "ended", "ended a calendar address")
    return feed


def digest_of(secret: str) -> str:
    """What is kept of it. It is random and long, so a plain digest cannot be turned round."""
    return hashlib.sha256(secret.encode()).hexdigest()


def feed_of(secret: str) -> CalendarFeed | None:
    """The live feed of a secret. The digest is looked up, so the time taken tells nothing of the secret."""
    feeds = CalendarFeed.objects.alive().select_related("user", "site")
    feed = feeds.filter(digest=digest_of(secret)).first()
    today = timezone.localdate()
    if feed and feed.last_read_on != today:
        CalendarFeed.objects.filter(pk=feed.pk).update(last_read_on=today)
    return feed


def _require(actor: User, shows: str, site: Site | None) -> None:
    """404 for a site that one does not know, 403 for a role that does not suffice there."""
    if shows not in (OF_SITE if site else OWN):
        raise Refused(_("Choose what the calendar shows."))
    if site:
        require_role(actor, site, *OF_SITE[CalendarFeed.Shows(shows)].roles)


def _new_secret() -> str:
    return secrets.token_urlsafe(32)


def _tell(actor: User, feed: CalendarFeed, verb: str, words: str) -> None:
    record(
        actor=actor,
        verb=f"feed.{verb}",
        sentence=f"{words}: {in_english(feed)}",
        site_id=feed.site_id,
        subjects=[feed, actor],
    )
