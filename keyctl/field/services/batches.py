"""Taking what tablets tell: each event in a transaction of its own, with its effect and its answer."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError, connection, transaction
from django.db.models import Value
from django.db.models.functions import Coalesce, Greatest
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.field.access import field_sites
from keyctl.field.models import Device, DeviceUser, FieldEvent, Outcome, ReconcileCase, RejectedEvent, Via
from keyctl.field.parsing import Malformed, Told, digest_of, read_event, text_of, told_id, told_sequence
from keyctl.field.services.taking import LONGEST_REASON, Sending, take_event
from keyctl.field.things import NOT_HERE, Things
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from keyctl.lib.prepared import Prepared, PreparedUpdate, Slot

MOST_EVENTS = 200
ATTEMPTS = 5
LONGEST_REJECTED = 4000
MOST_SECONDS = 2**31 - 1

_KEPT = Prepared(lambda: FieldEvent.objects.filter(pk=Slot("pk")))
_REJECTED = Prepared(lambda: RejectedEvent.objects.filter(event_id=Slot("pk")))
_HEARD = PreparedUpdate(
    lambda: Device.objects.filter(pk=Slot("pk")),
    last_sequence=Greatest("last_sequence", Slot("highest")),
    seen_at=Slot("now"),
    skew_seconds=Slot("skew"),
    # Of a tablet that does not say how many, what it said before stays.
    unsent=Coalesce(Slot("unsent"), "unsent"),
)

ANOTHER_BODY = gettext_lazy("Another event came under the same event_id before; this one was not taken.")


@dataclass(frozen=True)
class Answer:
    event_id: UUID | None
    outcome: Outcome
    reason: Text = ""
    case: ReconcileCase | None = None
    first_outcome: str = ""


def take_batch(
    *,
    actor: User,
    device: Device | None,
    sent_at: datetime | None,
    events: Sequence[Any],
    via: str,
    unsent: int | None = None,
) -> list[Answer]:
    """Answers in the order sent. A physical fact is never refused: what contradicts goes to a case."""
    if len(events) > MOST_EVENTS:
        raise Refused(
            gettext("At most {most_events} events at a time; send the rest afterwards.").format(
                most_events=MOST_EVENTS
            )
        )
    read = [_read(raw) for raw in events]
    told = [each for each in read if isinstance(each, Told)]
    sending = _sending(actor, device, sent_at, Via(via), {each.person for each in told})
    known = _known({told_id(raw) for raw in events})
    # What came before is only answered again.
    new = [each for each in told if each.event_id not in known]
    sign = _Sign(sending, told, unsent, with_event=new[-1] if new else None)
    taker = _Taker(sending, Things.of(new, actor), known, sign)
    answers = [taker.take(each, raw) for each, raw in zip(read, events, strict=True)]
    sign.give()
    return answers


def _sending(
    actor: User, device: Device | None, sent_at: datetime | None, via: Via, persons: set[UUID]
) -> Sending:
    home = device.site if device else field_sites(actor).first()
    if home is None:
        raise PermissionDenied
    # A file was exported at some other time: it says nothing of the clock.
    off = None if sent_at is None or via == Via.FILE else (sent_at - timezone.now()).total_seconds()
    skew = None if off is None else int(max(-MOST_SECONDS, min(MOST_SECONDS, off)))
    return Sending(actor, device, via, skew, home, _vouched(actor, device, via, persons - {actor.pk}))


def _vouched(sender: User, device: Device | None, via: Via, others: set[UUID]) -> frozenset[UUID]:
    """A tablet that proves itself is believed about people who have been signed in on it.

    Not where the sender does not work at its site: a tablet in hand makes nobody a locksmith.
    """
    if device is None or device.is_withdrawn or via != Via.TABLET or not others:
        return frozenset()
    if not field_sites(sender).filter(pk=device.site_id).exists():
        return frozenset()
    known = DeviceUser.objects.filter(device=device, user__in=others)
    return frozenset(known.values_list("user_id", flat=True))


def _read(raw: Any) -> Told | Malformed:
    try:
        return read_event(raw)
    except Malformed as fault:
        return fault


@dataclass(frozen=True)
class _First:
    """What came first under an identifier."""

    digest: str
    outcome: Outcome
    reason: Text
    case: ReconcileCase | None = None


def _known(pks: set[UUID | None]) -> dict[UUID, _First]:
    wanted = {pk for pk in pks if pk is not None}
    first: dict[UUID, _First] = {}
    if len(wanted) == 1 and not _is_known(next(iter(wanted))):
        return first
    rejected = RejectedEvent.objects.filter(event_id__in=wanted).order_by("-received_at")
    for pk, digest, reason in rejected.values_list("event_id", "digest", "reason"):
        if pk is not None:
            first[pk] = _First(digest, Outcome.REJECTED, reason)
    if FieldEvent.objects.filter(pk__in=wanted).exists():
        for event in FieldEvent.objects.select_related("case").filter(pk__in=wanted):
            first[event.pk] = _first_of(event)
    return first


def _is_known(pk: UUID) -> bool:
    """Asked of each act that comes by itself, and hardly ever true: the plain question first."""
    return _KEPT.exists(pk=pk) or _REJECTED.exists(pk=pk)


def _first_of(event: FieldEvent) -> _First:
    return _First(event.digest, Outcome(event.outcome), event.reason, event.case)


class _Taker:
    """Takes the events of one envelope, one after the other."""

    def __init__(self, sending: Sending, things: Things, known: dict[UUID, _First], sign: "_Sign") -> None:
        self.sending, self.things, self.known, self.sign = sending, things, known, sign

    def take(self, told: Told | Malformed, raw: Any) -> Answer:
        if isinstance(told, Malformed):
            return self._reject(raw, str(told))
        if first := self.known.get(told.event_id):
            return self._repeat(told.event_id, first, told.digest, raw)
        event = self._stored(told)
        if event is None:
            return self._repeat(told.event_id, self.known[told.event_id], told.digest, raw)
        self.known[event.pk] = _first_of(event)
        return self._answer(event)

    def _stored(self, told: Told) -> FieldEvent | None:
        """The event as it was kept; None where another sending of it was first."""
        for _ in range(ATTEMPTS):
            try:
                kept = self._take(told)
                self.sign.is_given |= told is self.sign.with_event
                return kept
            except IntegrityError:
                if event := FieldEvent.objects.select_related("case").filter(pk=told.event_id).first():
                    self.known[event.pk] = _first_of(event)
                    return None
            except OperationalError:
                # PostgreSQL breaks a ring of locks by ending one of its transactions.
                if connection.vendor != "postgresql" or connection.in_atomic_block:
                    raise
        raise OperationalError(gettext("The event could not be written; it stays with the tablet."))

    @transaction.atomic
    def _take(self, told: Told) -> FieldEvent:
        event = take_event(told, self.sending, self.things)
        if told is self.sign.with_event:
            self.sign.write()
        return event

    def _repeat(self, pk: UUID, first: _First, digest: str, raw: Any) -> Answer:
        if first.digest != digest:
            return self._reject(raw, ANOTHER_BODY)
        reason = first.reason if self._may_know(first.case) else NOT_HERE
        return Answer(pk, Outcome.DUPLICATE, reason, first.case, first.outcome)

    def _answer(self, event: FieldEvent) -> Answer:
        reason = event.reason if self._may_know(event.case) else NOT_HERE
        return Answer(event.pk, Outcome(event.outcome), reason, event.case)

    def _may_know(self, case: ReconcileCase | None) -> bool:
        """Words about a site that the sender does not work at are not for the sender."""
        return case is None or case.site_id in self.things.works_at(self.sending.sender)

    def _reject(self, raw: Any, reason: Text) -> Answer:
        pk, digest = told_id(raw), digest_of(raw)
        row = {
            "device": self.sending.device,
            "sequence": told_sequence(raw),
            "sender": self.sending.sender,
            "text": text_of(raw)[:LONGEST_REJECTED],
            "reason": reason[:LONGEST_REASON],
        }
        RejectedEvent.objects.get_or_create(event_id=pk, digest=digest, defaults=row)
        if pk is not None:
            self.known.setdefault(pk, _First(digest, Outcome.REJECTED, reason))
        return Answer(pk, Outcome.REJECTED, reason)


@dataclass
class _Sign:
    """When the tablet was last heard of, and what it said about itself.

    It is written in the transaction of the last event: a commit of its own would wait for the disk again.
    """

    sending: Sending
    told: Sequence[Told]
    unsent: int | None
    with_event: Told | None
    is_given: bool = False

    def write(self) -> None:
        device = self.sending.device
        if device is None:
            return
        highest = max((each.sequence for each in self.told), default=0)
        if self.sending.via != Via.TABLET:
            rows = Device.objects.filter(pk=device.pk)
            rows.update(last_sequence=Greatest("last_sequence", Value(highest)))
            return
        _HEARD.update(
            pk=device.pk,
            highest=highest,
            now=timezone.now(),
            skew=self.sending.skew_seconds,
            unsent=self.unsent,
        )

    def give(self) -> None:
        """Where no event took it along."""
        if not self.is_given:
            self.write()
