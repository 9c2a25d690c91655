"""Requests that end before a key is in anybody's hand: withdrawn, left lying, or their holder has gone."""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.approvals.custom import collect_until, half_time, settings_of
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services.locking import already, departed, tell
from keyctl.approvals.services.setting_aside import UNSETTLED, free, held, provide
from keyctl.approvals.services.telling import tell_ended, tell_lapsed, tell_still_ready
from keyctl.keys.models import Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text

State = KeyRequest.State
OPEN = (State.ASKED, *UNSETTLED)
TIDIED = kept_text(
    gettext_noop("Reminded: {reminded}, not collected in time: {lapsed}, looked for another copy: {renewed}.")
)


@transaction.atomic
def withdraw_request(*, actor: User, request: KeyRequest) -> KeyRequest:
    """Until a key is handed out; what was set aside is anybody's again, and what was ordered is not cut."""
    request = held(request)
    if request.requester_id != actor.pk:
        raise Refused(
            _("{requester} asked for this key; only they withdraw the request.").format(
                requester=request.requester
            )
        )
    if request.state not in OPEN:
        raise Refused(
            _("{already} It can no longer be withdrawn. Speak to the key desk.").format(
                already=already(request)
            )
        )
    if request.grants.filter(copy__isnull=False).exists():
        raise Refused(_("Some of the keys are collected already. Bring them back to the key desk instead."))
    _end(actor, request, State.WITHDRAWN)
    tell(actor, request, "request.withdrawn", f"withdrew the request for {request.building}")
    return request


def end_for_departed(actor: User, holder: Holder) -> None:
    """Called in the transaction that says so: what a holder was to get is given up, whoever asked for it."""
    for found in KeyRequest.objects.filter(holder=holder, state__in=OPEN).order_by("pk"):
        request = held(found)
        if request.state in OPEN:
            _end_departed(actor, request)


def tidy(now: datetime) -> str:
    """The routine: give up what nobody collected, remind before that, replace what was lost meanwhile."""
    reminded = sum(_remind(request, now) for request in _ready())
    lapsed = sum(_lapse(request, now) for request in _unsettled(now))
    renewed = sum(_renew(request) for request in _broken_promises())
    return TIDIED.format(reminded=reminded, lapsed=lapsed, renewed=renewed)


def _end(actor: User | None, request: KeyRequest, state: KeyRequest.State) -> None:
    free(actor, request)
    request.state = state
    request.version += 1
    request.save(update_fields=["state", "version"])


def _ready() -> list[KeyRequest]:
    ready = KeyRequest.objects.filter(state=State.READY)
    return list(ready.select_related("building__site", "holder", "requester", "holder_user"))


def _unsettled(now: datetime) -> list[KeyRequest]:
    """What may have lapsed, by a condition that is too wide; each is looked at again when it is held."""
    today = timezone.localdate(now)
    late = Q(state=State.READY, ready_at__lt=now - timedelta(days=1)) | Q(needed_until__lt=today)
    return list(KeyRequest.objects.filter(late, state__in=UNSETTLED).order_by("pk"))


def _broken_promises() -> list[KeyRequest]:
    """Requests whose copy set aside was lost, broken or taken meanwhile, or its key retired.

    Who asked first gets what is left.
    """
    gone = ~Q(grants__reserved_copy__state=KeyCopy.State.IN_CABINET) | Q(
        grants__reserved_copy__condition=KeyCopy.Condition.BROKEN
    )
    retired = Grant.objects.filter(reserved_copy__isnull=False, symbol__retired_at__isnull=False)
    found = KeyRequest.objects.filter(state__in=UNSETTLED, grants__reserved_copy__isnull=False)
    broken = found.filter(gone | Exists(retired.filter(request=OuterRef("pk")))).distinct()
    return list(broken.order_by("asked_at", "pk"))


def _end_departed(actor: User, request: KeyRequest) -> None:
    request.decision_note = departed(request)
    request.save(update_fields=["decision_note"])
    _end(actor, request, State.WITHDRAWN)
    tell_ended(request)
    sentence = f"ended the request of {request.requester}: {request.holder} no longer receives keys"
    tell(actor, request, "request.ended", sentence)


def _remind(request: KeyRequest, now: datetime) -> bool:
    """Once, when half of the time to collect is over."""
    half = half_time(request, settings_of(request.building.site))
    if half is None or now < half:
        return False
    with transaction.atomic():
        return tell_still_ready(request)


@transaction.atomic
def _lapse(request: KeyRequest, now: datetime) -> bool:
    request = held(request)
    if request.state not in UNSETTLED:
        return False
    until = collect_until(request)
    is_over = request.needed_until is not None and request.needed_until < timezone.localdate(now)
    if not is_over and (until is None or now < until):
        return False
    _end(None, request, State.LAPSED)
    tell_lapsed(request)
    why = "its time is over" if is_over else "nobody collected the keys in time"
    tell(None, request, "request.lapsed", f"freed the keys of {request.holder}: {why}")
    return True


@transaction.atomic
def _renew(request: KeyRequest) -> bool:
    """In the name of whoever approved: they wanted the key given."""
    request = held(request)
    if request.state not in UNSETTLED or request.decided_by is None:
        return False
    provide(request.decided_by, request)
    return True
