"""Calendar feeds: made, ended, and found by their secret."""

import hashlib
import secrets

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.desk.models import CalendarFeed
from keyctl.keys.access import DESK
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site

MOST_FEEDS = 5


@transaction.atomic
def make_feed(*, actor: User, site: Site | None = None) -> tuple[CalendarFeed, str]:
    """The feed and its secret, which is told this once and kept nowhere."""
    if site:
        require_role(actor, site, *DESK)
    User.objects.select_for_update().get(pk=actor.pk)
    if CalendarFeed.objects.filter(user=actor, ended_at__isnull=True).count() >= MOST_FEEDS:
        raise Refused(f"You have {MOST_FEEDS} calendar addresses already. End one that you do not use.")
    secret = secrets.token_urlsafe(32)
    feed = CalendarFeed.objects.create(user=actor, site=site, digest=digest_of(secret))
    _tell(actor, feed, "made", "made a calendar address")
    return feed, secret


@transaction.atomic
def end_feed(*, actor: User, feed: CalendarFeed) -> CalendarFeed:
    """Its address is dead from now on."""
    ended = CalendarFeed.objects.filter(pk=feed.pk, user=actor, ended_at__isnull=True)
    if not ended.update(ended_at=timezone.now()):
        raise Refused("This calendar address has ended already.")
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


def _tell(actor: User, feed: CalendarFeed, verb: str, words: str) -> None:
    what = f"of due keys at {feed.site}" if feed.site else "of their own keys"
    record(
        actor=actor,
        verb=f"feed.{verb}",
        sentence=f"{words} {what}",
        site_id=feed.site_id,
        subjects=[feed, actor],
    )
