"""Which entries a feed shows, and who may have which: asked at each reading, for rights end."""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.counts.access import READERS as COUNT_READERS
from keyctl.desk.calendar.entries import Entry, write_calendar
from keyctl.desk.calendar.keys import keys_of, own_keys
from keyctl.desk.calendar.work import counts_of, interims_of, orders_of, own_orders
from keyctl.desk.models import CalendarFeed
from keyctl.interim.access import READERS as INTERIM_READERS
from keyctl.keys.access import DESK
from keyctl.orders.access import READERS as ORDER_READERS
from keyctl.places.models import Site
from keyctl.places.roles import Role

Shows = CalendarFeed.Shows


@dataclass(frozen=True)
class OfSite:
    roles: tuple[Role, ...]
    entries: Callable[[User, Site], list[Entry]]


OWN: dict[Shows, Callable[[User], list[Entry]]] = {Shows.OWN_KEYS: own_keys, Shows.OWN_ORDERS: own_orders}
OF_SITE: dict[Shows, OfSite] = {
    Shows.KEYS: OfSite(DESK, keys_of),
    Shows.ORDERS: OfSite(ORDER_READERS, orders_of),
    Shows.INTERIM: OfSite(INTERIM_READERS, interims_of),
    Shows.COUNTS: OfSite(COUNT_READERS, counts_of),
}


def calendar_of(feed: CalendarFeed) -> bytes:
    return write_calendar(str(feed), _entries(feed))


def sites_with(user: User, shows: str) -> "QuerySet[Site]":
    """Where the person may have it."""
    return Site.objects.for_roles(user, *OF_SITE[Shows(shows)].roles)


def may_have(user: User, shows: str, site: Site | None) -> bool:
    """One's own is everybody's."""
    if site is None:
        return shows in OWN
    return shows in OF_SITE and sites_with(user, shows).filter(pk=site.pk).exists()


def _entries(feed: CalendarFeed) -> list[Entry]:
    if not may_have(feed.user, feed.shows, feed.site):
        return []
    if feed.site is None:
        return OWN[Shows(feed.shows)](feed.user)
    return OF_SITE[Shows(feed.shows)].entries(feed.user, feed.site)
