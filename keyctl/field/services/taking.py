"""Taking one event: what it says is tried, it is kept with its answer; what contradicts goes to a case."""

import logging
from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, OperationalError, transaction
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.field.models import Device, FieldEvent, Outcome, Via
from keyctl.field.parsing import Told
from keyctl.field.services.conflicts import case_for, concerned_by, keep_story
from keyctl.field.services.effects import Act, apply
from keyctl.field.things import NOT_HERE, Things
from keyctl.field.wording import said_of
from keyctl.lib.errors import Refused
from keyctl.lib.inserting import insert
from keyctl.lib.traces import trace_without_values
from keyctl.places.models import Site

logger = logging.getLogger(__name__)

LONGEST_REASON = 600

NO_RIGHT = "Whoever did it has no right to work there any more. It is kept as it was told."
UNKNOWN_PERSON = "The person who is said to have done it is not known here or does not sign in any more."
CONTRADICTS = "The register does not take this: it contradicts what is known. It is kept as it was told."
WITHDRAWN = (
    "This tablet was withdrawn. What it tells waits until somebody with the right has looked at it; nothing "
    "was changed."
)
UNEXPECTED = "The program did not expect this. It is kept as it was told; the server’s log names the place."


@dataclass(frozen=True)
class Sending:
    """One envelope: who sends it, from where, and how far the tablet's clock is off."""

    sender: User
    device: Device | None
    via: Via
    skew_seconds: int | None
    home: Site
    # Whose acts the tablet itself vouches for, beside the sender's own.
    vouched: frozenset[UUID] = frozenset()

    def doer_of(self, person: User) -> User:
        """Who answers for an act of this person: who sends it, where the tablet does not vouch for them."""
        return person if person.pk in self.vouched else self.sender


def take_event(told: Told, sending: Sending, things: Things) -> FieldEvent:
    """Inside the transaction of one event: try what it says, keep it, and keep what contradicts."""
    event = _row(told, sending, things)
    if sending.device is not None and sending.device.is_withdrawn:
        event.outcome, event.reason = Outcome.CONFLICT, WITHDRAWN
        event.quarantine = FieldEvent.Quarantine.WAITING
        event.save(force_insert=True)
        return event
    reason = try_event(told, sending, things)
    if reason is None:
        event.outcome = Outcome.APPLIED
        insert(event)
        _tell_sent_for(event, told, sending, things)
    else:
        event.outcome, event.reason = Outcome.CONFLICT, reason[:LONGEST_REASON]
        keep_contradiction(event, told, sending, things, is_new=True)
    return event


def keep_contradiction(
    event: FieldEvent, told: Told, sending: Sending, things: Things, *, is_new: bool
) -> None:
    concerned = concerned_by(told.body, sending.home)
    cases = [case_for(each) for each in concerned]
    mine = things.works_at(sending.sender)
    event.case = next((case for case in cases if case.site_id in mine), cases[0])
    event.save(force_insert=is_new)
    for case, each in zip(cases, concerned, strict=True):
        keep_story(event, told, things, case=case, concerned=each, teller=_teller(event))


def try_event(told: Told, sending: Sending, things: Things) -> str | None:
    """Let the ordinary service do it; the reason why not, where it leaves the register as it is."""
    person = things.people.get(told.person)
    if person is None or not person.is_active:
        return UNKNOWN_PERSON
    doer = sending.doer_of(person)
    try:
        with transaction.atomic():
            apply(Act(told, doer, things))
    except OperationalError:
        raise
    except Exception as error:
        return _reason_of(error)
    return None


def _reason_of(error: Exception) -> str:
    if isinstance(error, Refused):
        return " ".join(error.sentences)
    if isinstance(error, PermissionDenied):
        return str(NO_RIGHT)
    if isinstance(error, Http404):
        return str(NOT_HERE)
    if isinstance(error, IntegrityError):
        return str(CONTRADICTS)
    # One event that the program cannot deal with must not keep the others on the tablet for ever.
    logger.error("A field event failed: %s", trace_without_values(error))
    return UNEXPECTED


def _row(told: Told, sending: Sending, things: Things) -> FieldEvent:
    return FieldEvent(
        pk=told.event_id,
        device=sending.device,
        sequence=told.sequence,
        kind=told.kind,
        claimed_at=told.claimed_at,
        person=things.people.get(told.person),
        sender=sending.sender,
        body=told.raw_body,
        digest=told.digest,
        via=sending.via,
        skew_seconds=sending.skew_seconds,
    )


def _teller(event: FieldEvent) -> str:
    who = str(event.person) if event.person else "Somebody who is not known here"
    where = f" with tablet {event.device}" if event.device else ""
    by = f", handed in by {event.sender}" if event.person_id != event.sender_id else ""
    return f"{who}{where}{by}"


def _tell_sent_for(event: FieldEvent, told: Told, sending: Sending, things: Things) -> None:
    """History says who sent it where that is somebody else than who did it."""
    if event.person_id == event.sender_id:
        return
    site = sending.home.pk
    record(
        actor=event.sender,
        verb="field.sent_for_another",
        sentence=f"sent what {_teller(event)}: {said_of(told.body, things, site)}"[:400],
        site_id=site,
        subjects=[sending.device] if sending.device else [],
        detail={"event": str(event.pk), "person": str(told.person)},
    )
