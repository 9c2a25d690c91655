"""The worker's round: messages are written from history, claimed, handed over, and each try noted at once.

Whoever is killed between sending and noting leaves a claim that runs out: the message goes out again under
the same identifier, by which a receiver tells a repeat.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text
from keyctl.webhooks.hosts import rules_for
from keyctl.webhooks.models import Delivery, Endpoint, Try
from keyctl.webhooks.schedule import FARTHEST, RESTS_AFTER, longest_pause, pause_after
from keyctl.webhooks.secrets import secrets_in_force
from keyctl.webhooks.services.asking import Batch, Came, hand_over
from keyctl.webhooks.services.resting import put_to_rest
from keyctl.webhooks.services.writing import write_due

CLAIM_LASTS = timedelta(minutes=5)
MOST_OF_ONE = 50
# 410: the other program says that nobody listens there any more.
NOBODY_LISTENS = 410
TOLD = kept_text(
    gettext_noop("Messages written: {written}, taken: {taken}, not taken: {failed}, waiting: {waiting}.")
)


def tell_others(now: datetime) -> str:
    """The routine."""
    written = write_due(now)
    batches = list(_batches(now))
    taken = failed = 0
    for came in hand_over(batches):
        note(came, now)
        taken, failed = (taken + 1, failed) if came.is_taken else (taken, failed + 1)
    _release(batches, now)
    waiting = Delivery.objects.waiting().count()
    return TOLD.format(written=written, taken=taken, failed=failed, waiting=waiting)


def _batches(now: datetime) -> Iterator[Batch]:
    due = Delivery.objects.waiting().filter(next_at__lte=now)
    asked = Q(not_before=None) | Q(not_before__lte=now) | Q(not_before__gt=now + FARTHEST)
    on = Endpoint.objects.filter(asked, state=Endpoint.State.ON, pk__in=due.values("endpoint"))
    for endpoint in on.prefetch_related("sites"):
        rows = due.filter(endpoint=endpoint).order_by("written_at", "number")
        try:
            rules, secrets = rules_for(endpoint, endpoint.sites.all()), secrets_in_force(endpoint, now)
        except Refused as refusal:
            _note_unsent(rows[0], refusal, now)
            continue
        if claimed := [each for each in rows[:MOST_OF_ONE] if _claim(each, now)]:
            yield Batch(endpoint.url, rules, secrets, claimed)


def _claim(delivery: Delivery, now: datetime) -> bool:
    """By compare-and-swap: of two workers one moves the moment and sends the message."""
    mine = Delivery.objects.waiting().filter(pk=delivery.pk, next_at=delivery.next_at)
    return bool(mine.update(next_at=now + CLAIM_LASTS))


def _note_unsent(delivery: Delivery, refusal: Refused, now: datetime) -> None:
    """What is wrong on our side stands with the first that waits; nobody was asked."""
    if _claim(delivery, now):
        note(Came(delivery, None, 0, refusal.message[: Try.LONGEST_WORDS]), now)


@transaction.atomic
def note(came: Came, now: datetime) -> None:
    """What came of one try: its line in the log, and when the message goes out again if it must."""
    delivery = came.delivery
    Try.objects.create(
        delivery=delivery, status=came.status, milliseconds=came.milliseconds, words=came.words
    )
    facts: dict[str, Any] = {"attempts": F("attempts") + 1}
    if came.is_taken:
        facts |= {"state": Delivery.State.DELIVERED, "delivered_at": timezone.now()}
    elif pause := pause_after(delivery.attempts + 1):
        facts["next_at"] = now + pause
    else:
        facts["state"] = Delivery.State.FAILED
    Delivery.objects.waiting().filter(pk=delivery.pk).update(**facts)
    _note_standing(came, now)


def _note_standing(came: Came, now: datetime) -> None:
    """How the endpoint does. One that is not reached is left alone for longer and longer, whatever waits."""
    endpoint = Endpoint.objects.select_for_update(of=("self",)).get(pk=came.delivery.endpoint_id)
    if came.is_taken:
        endpoint.failing_since = None
    elif endpoint.failing_since is None:
        endpoint.failing_since = now
    endpoint.misses = endpoint.misses + 1 if came.status is None else 0
    endpoint.not_before = now + longest_pause(endpoint.misses) if endpoint.misses else None
    endpoint.save(update_fields=["failing_since", "misses", "not_before"])
    fails_for = now - (endpoint.failing_since or now)
    if endpoint.is_on and (came.status == NOBODY_LISTENS or fails_for >= RESTS_AFTER):
        put_to_rest(endpoint, now)


def _release(batches: Sequence[Batch], now: datetime) -> None:
    """What was claimed and not tried is due again; its endpoint says when it is asked."""
    keys = [delivery.pk for batch in batches for delivery in batch.deliveries]
    Delivery.objects.waiting().filter(pk__in=keys, next_at=now + CLAIM_LASTS).update(next_at=now)
