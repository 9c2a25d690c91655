"""What the app on the tablet asks and tells: the pack, its state, events, look-ups."""

from dataclasses import dataclass
from datetime import datetime
from http import HTTPStatus
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.field import services
from keyctl.field.access import require_locksmith, sending_device, visible_cases
from keyctl.field.models import Device, Via
from keyctl.field.parsing import Malformed, Reader
from keyctl.field.selectors.pack import looked_up, next_sequence, pack_for
from keyctl.field.services import Answer
from keyctl.field.views.problems import Problem, for_programs
from keyctl.lib.bodies import JsonBounds, NotJson, TooLarge, read_json

COOKIE = "keyctl_tablet"
MOST_BYTES = 1024 * 1024
# A full batch; how deep one event may be nested, its own reader says.
BOUNDS = JsonBounds(bytes=MOST_BYTES, values=60_000)
MOST_ENVELOPES = 20
NO_STORE = {"Cache-Control": "no-store"}


@require_GET
@for_programs
def pack(request: Request) -> HttpResponseBase:
    require_locksmith(request.user)
    device = device_in(request)
    if device is not None:
        services.note_user(device=device, user=request.user)
    return JsonResponse(pack_for(request.user, device), headers=NO_STORE)


@require_GET
@login_not_required
def state(request: HttpRequest) -> HttpResponseBase:
    """Open to all: a tablet asks whether anybody is signed in, and gets the token to send with."""
    user, device = request.user, device_in(request)
    known = user.is_authenticated
    facts = {
        "signed_in": known,
        "person": {"id": str(user.pk), "name": str(user)} if known else None,
        "csrf": get_token(request),
        "server_time": timezone.now().isoformat(),
        "device": told_device(device) if device and not device.is_withdrawn else None,
    }
    return JsonResponse(facts, headers=NO_STORE)


@require_GET
@for_programs
def lookup(request: Request) -> HttpResponseBase:
    require_locksmith(request.user)
    return JsonResponse(looked_up(request.user, request.GET.get("code", "")), headers=NO_STORE)


@require_POST
@for_programs
def events(request: Request) -> HttpResponseBase:
    envelope = read_envelope(_body(request))
    device = device_in(request)
    is_its_own = device is not None and device.pk == envelope.device
    answers = services.take_batch(
        actor=request.user,
        device=device if is_its_own else sending_device(request.user, envelope.device),
        sent_at=envelope.sent_at,
        events=envelope.events,
        via=Via.TABLET if is_its_own else Via.FILE,
        unsent=envelope.unsent,
    )
    body = {"server_time": timezone.now().isoformat(), "answers": told_answers(request, answers)}
    return JsonResponse(body, headers=NO_STORE)


def device_in(request: HttpRequest) -> Device | None:
    """The tablet that the request comes from, by the proof in its cookie."""
    proof = request.COOKIES.get(COOKIE, "")
    return services.device_of(proof) if proof else None


def told_device(device: Device) -> dict[str, Any]:
    return {"id": str(device.pk), "name": device.name, "next_sequence": next_sequence(device)}


def told_answers(request: Request, answers: list[Answer]) -> list[dict[str, Any]]:
    """A case has an address only for who may read it."""
    wanted = {answer.case.pk for answer in answers if answer.case}
    seen = _readable(request, wanted) if wanted else set()
    return [_told_answer(answer, seen) for answer in answers]


def _readable(request: Request, cases: set[UUID]) -> set[UUID]:
    return set(visible_cases(request.user).filter(pk__in=cases).values_list("pk", flat=True))


def _told_answer(answer: Answer, seen: set[UUID]) -> dict[str, Any]:
    case = answer.case.pk if answer.case and answer.case.pk in seen else None
    return {
        "event_id": str(answer.event_id) if answer.event_id else None,
        "outcome": answer.outcome.value,
        "reason": answer.reason,
        "case": reverse("field:case", args=[case]) if case else None,
        "first_outcome": answer.first_outcome or None,
    }


@dataclass(frozen=True)
class Envelope:
    device: UUID | None
    sent_at: datetime
    events: list[Any]
    unsent: int | None


def read_envelope(raw: Any, clock: str = "sent_at") -> Envelope:
    """What is around the events; ``clock`` is the member that says when it was made."""
    try:
        reader = Reader(raw, "")
        told = raw.get("events")
        if not isinstance(told, list) or len(told) > services.MOST_EVENTS:
            raise Malformed(f"events must be a list of at most {services.MOST_EVENTS} events.")
        unsent = reader.optional_number("unsent", 0)
        return Envelope(reader.optional_uuid("device"), reader.moment(clock), told, unsent)
    except Malformed as fault:
        raise Problem(HTTPStatus.BAD_REQUEST, str(fault)) from None


def read_envelopes(raw: Any) -> list[Envelope]:
    """An exported file holds any number of events, or several envelopes; they are taken a batch at a time."""
    whole = raw if isinstance(raw, list) else [raw]
    if len(whole) > MOST_ENVELOPES:
        detail = f"A file holds at most {MOST_ENVELOPES} envelopes; hand them in by parts."
        raise Problem(HTTPStatus.BAD_REQUEST, detail)
    envelopes = []
    for each in whole:
        events = each.get("events") if isinstance(each, dict) else None
        told = events if isinstance(events, list) else []
        for start in range(0, max(1, len(told)), services.MOST_EVENTS):
            part = told[start : start + services.MOST_EVENTS]
            envelopes.append(read_envelope({**each, "events": part} if told else each, "exported_at"))
    return envelopes


def _body(request: Request) -> Any:
    if request.content_type != "application/json":
        raise Problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Send application/json.")
    return read_told(request.read(MOST_BYTES + 1))


def read_told(raw: bytes) -> Any:
    try:
        return read_json(raw, BOUNDS)
    except TooLarge:
        detail = f"At most {MOST_BYTES} bytes are taken at a time; send fewer events."
        raise Problem(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, detail) from None
    except NotJson as fault:
        raise Problem(HTTPStatus.BAD_REQUEST, f"This is not JSON that can be read: {fault}") from None
