"""What a withdrawn tablet told has no effect until somebody has looked at it."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.field.access import SETTLERS
from keyctl.field.models import Device, FieldEvent, Outcome, Via
from keyctl.field.services.taking import LONGEST_REASON, Sending, keep_contradiction, try_event
from keyctl.field.things import Things, told_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.places.access import require_role

Quarantine = FieldEvent.Quarantine


def take_in(*, actor: User, events: Sequence[FieldEvent]) -> list[FieldEvent]:
    """Do what they say, each by itself in the order of the tablet; who takes them in answers for them."""
    return [_take_in(actor, event) for event in sorted(events, key=lambda event: event.sequence)]


@transaction.atomic
def _take_in(actor: User, event: FieldEvent) -> FieldEvent:
    event = _locked(actor, event)
    told = told_of(event)
    sending = Sending(actor, event.device, Via.FILE, event.skew_seconds, _device_of(event).site)
    things = Things.of([told], actor)
    _decide(actor, event, Quarantine.TAKEN_IN)
    reason = try_event(told, sending, things)
    event.later_outcome = Outcome.APPLIED if reason is None else Outcome.CONFLICT
    event.later_reason = (reason or "")[:LONGEST_REASON]
    if reason is None:
        event.save()
    else:
        keep_contradiction(event, told, sending, things, is_new=False)
    _tell(actor, event, "taken_in", f"took in what the withdrawn tablet {event.device} told: {event}")
    return event


@transaction.atomic
def set_aside(*, actor: User, events: Sequence[FieldEvent], reason: str) -> list[FieldEvent]:
    """They stay without effect, for a reason that is kept with them."""
    if not reason.strip():
        raise Refused(_("Say why this is set aside."))
    locked = [_locked(actor, event) for event in events]
    for event in locked:
        event.later_reason = reason.strip()[:LONGEST_REASON]
        _decide(actor, event, Quarantine.SET_ASIDE)
        event.save()
        told = f"set aside what the withdrawn tablet {event.device} told ({event}): {reason.strip()}"
        _tell(actor, event, "set_aside", told)
    return locked


def _locked(actor: User, event: FieldEvent) -> FieldEvent:
    event = held(FieldEvent.objects.select_related("device__site", "person", "decided_by"), event.pk)
    require_role(actor, _device_of(event).site, *SETTLERS)
    if event.quarantine != Quarantine.WAITING:
        raise Conflict(_("{event} does not wait any more. Look at the list again.").format(event=event))
    return event


def _device_of(event: FieldEvent) -> Device:
    if event.device is None:
        raise Refused(_("This was told by no tablet that is known here."))
    return event.device


def _decide(actor: User, event: FieldEvent, decision: Quarantine) -> None:
    event.quarantine, event.decided_at, event.decided_by = decision, timezone.now(), actor


def _tell(actor: User, event: FieldEvent, verb: str, sentence: str) -> None:
    device = _device_of(event)
    record(
        actor=actor,
        verb=f"field.{verb}",
        sentence=sentence[:400],
        site_id=device.site_id,
        subjects=[device],
        detail={"event": str(event.pk)},
    )
