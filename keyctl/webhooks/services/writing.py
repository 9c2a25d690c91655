"""From history to messages.

An entry of the chain is written in the transaction of what it tells, under the next number. So messages are
written from the chain, each entry once, and nobody who changes something waits for those who listen.
"""

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from keyctl.audit.models import Link
from keyctl.webhooks.kinds import family_of
from keyctl.webhooks.models import Delivery, Endpoint, Told
from keyctl.webhooks.payloads import payload_of

ENTRIES_AT_ONCE = 500
MOST_ENTRIES = 20_000


def write_due(now: datetime) -> int:
    """Messages for every entry since the last time; returns how many."""
    count = 0
    for _ in range(MOST_ENTRIES // ENTRIES_AT_ONCE):
        written = _write_next(now)
        if written is None:
            break
        count += written
    return count


@transaction.atomic
def _write_next(now: datetime) -> int | None:
    """How many messages came of the next entries, None where there are none. The messages and the place in
    history are kept together."""
    Told.objects.get_or_create(pk=1)
    told = Told.objects.select_for_update().get(pk=1)
    # The end before the listeners: who is made meanwhile hears of what comes after it.
    end = Link.objects.aggregate(last=Max("number"))["last"] or 0
    if end <= told.number:
        return None
    listeners = list(Endpoint.objects.exclude(state=Endpoint.State.OFF).prefetch_related("sites"))
    links = _links_after(told.number, end) if listeners else []
    messages = [message for link in links for message in _messages(link, listeners, now)]
    Delivery.objects.bulk_create(messages)
    told.number = links[-1].number if links else end
    told.save(update_fields=["number"])
    return len(messages)


def _links_after(number: int, end: int) -> list[Link]:
    rows = Link.objects.filter(number__gt=number, number__lte=end).order_by("number")
    rows = rows.select_related("event").prefetch_related("event__subjects").defer("before", "hash")
    return list(rows[:ENTRIES_AT_ONCE])


def _messages(link: Link, listeners: list[Endpoint], now: datetime) -> Iterator[Delivery]:
    wanted = [endpoint for endpoint in listeners if _hears_of(endpoint, link)]
    body = payload_of(link) if wanted else ""
    for endpoint in wanted:
        yield Delivery(
            endpoint=endpoint,
            number=link.number,
            type=link.event.verb,
            body=body,
            written_at=now,
            next_at=now,
        )


def _hears_of(endpoint: Endpoint, link: Link) -> bool:
    if link.number <= endpoint.told_from or family_of(link.event.verb) not in endpoint.families.split():
        return False
    sites: set[UUID] = {site.pk for site in endpoint.sites.all()}
    return link.event.site_id in sites
