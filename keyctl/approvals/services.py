"""Asking for keys by doors, deciding, withdrawing, and handing out what was approved."""

from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.audit.services import record
from keyctl.keys.models import Holder, KeyCopy
from keyctl.keys.services import hand_out, own_holder
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Building, Door, Membership
from keyctl.systems.models import KeySymbol

MOST_DOORS = 60
NO_LONGER_PROPOSED = (
    "These keys are no longer proposed: the cores behind the doors changed. Look at the proposals again."
)
State = KeyRequest.State


@transaction.atomic
def ask_for_key(
    *,
    actor: User,
    doors: Sequence[Door],
    reason: str,
    holder: Holder | None = None,
    needed_until: date | None = None,
) -> KeyRequest:
    """Without a holder the key is for the actor."""
    building = _building_of(actor, doors)
    holder = holder or own_holder(actor=actor, site=building.site)
    _refuse_asking(holder, building, reason, needed_until)
    request = KeyRequest.objects.create(
        building=building,
        holder=holder,
        holder_user=holder.user,
        requester=actor,
        reason=reason.strip(),
        needed_until=needed_until,
    )
    request.doors.set(doors)
    _tell(
        actor,
        request,
        "request.asked",
        f"asked for {_doors(doors)} in {building}, for {holder}",
        things=doors,
    )
    return request


@transaction.atomic
def approve_request(
    *, actor: User, request: KeyRequest, version: int, symbols: Sequence[KeySymbol], note: str = ""
) -> KeyRequest:
    """``symbols`` are the keys of one of the proposals as they are now."""
    request = _locked_for_decision(actor, request, version)
    if not request.holder.is_active:
        raise Refused(f"{request.holder} no longer receives keys. Refuse the request.")
    wanted = set(symbols)
    if not any(wanted == set(each.symbols) for each in proposals_for(request)):
        raise Conflict(NO_LONGER_PROPOSED)
    _decide(actor, request, State.APPROVED, note)
    Grant.objects.bulk_create(
        [
            Grant(request=request, symbol=symbol, is_master=symbol.is_master, approved_by=actor)
            for symbol in wanted
        ]
    )
    names = ", ".join(sorted(symbol.symbol for symbol in wanted))
    sentence = f"approved the request of {request.requester}: {_short(names)} for {request.holder}"
    _tell(actor, request, "request.approved", sentence, things=[*wanted], note=note)
    return request


@transaction.atomic
def refuse_request(*, actor: User, request: KeyRequest, version: int, note: str) -> KeyRequest:
    request = _locked_for_decision(actor, request, version)
    if not note.strip():
        raise Refused("Say why: whoever asked reads the note.")
    _decide(actor, request, State.REFUSED, note)
    _tell(actor, request, "request.refused", f"refused the request of {request.requester}", note=note)
    return request


@transaction.atomic
def withdraw_request(*, actor: User, request: KeyRequest) -> KeyRequest:
    request = _locked(request)
    if request.requester_id != actor.pk:
        raise Refused(f"{request.requester} asked for this key; only they withdraw the request.")
    if request.state != State.ASKED:
        raise Refused(f"{_already(request)} It can no longer be withdrawn. Speak to the key desk.")
    request.state = State.WITHDRAWN
    request.version += 1
    request.save(update_fields=["state", "version"])
    _tell(actor, request, "request.withdrawn", f"withdrew the request for {request.building}")
    return request


@transaction.atomic
def hand_out_grant(*, actor: User, grant: Grant, copy: KeyCopy, signed_as: str) -> Grant:
    request = _locked(grant.request)
    grant = Grant.objects.select_related("symbol", "approved_by").get(pk=grant.pk)
    _refuse_handing_out(actor, request, grant, copy)
    hand_out(actor=actor, copy=copy, holder=request.holder, signed_as=signed_as, due_on=request.needed_until)
    grant.copy, grant.handed_out_by = copy, actor
    grant.save(update_fields=["copy", "handed_out_by"])
    if not request.grants.filter(copy__isnull=True).exists():
        request.state = State.HANDED_OUT
    request.version += 1
    request.save(update_fields=["state", "version"])
    sentence = f"handed out copy {copy} on the request of {request.requester}"
    _tell(actor, request, "request.handed_out", sentence, things=[copy, grant.symbol])
    return grant


def _building_of(actor: User, doors: Sequence[Door]) -> Building:
    if not doors:
        raise Refused("Choose at least one door.")
    if len(doors) > MOST_DOORS:
        raise Refused(f"Ask for at most {MOST_DOORS} doors at a time. Make a second request for the others.")
    buildings = {door.building for door in doors}
    if len(buildings) > 1:
        raise Refused("All doors of one request are in one building. Make a request for each building.")
    building = buildings.pop()
    if not Membership.objects.filter(user=actor, site=building.site).exists():
        raise Refused(f"You have no role at {building.site}. Its administrator can give you one.")
    return building


def _refuse_asking(holder: Holder, building: Building, reason: str, needed_until: date | None) -> None:
    if holder.site_id != building.site_id:
        raise Refused(f"{holder} is not a holder at {building.site}. The key desk there registers them.")
    if not holder.is_active:
        raise Refused(f"{holder} no longer receives keys. Ask the key desk.")
    if not reason.strip():
        raise Refused("Say what the key is needed for: the manager decides by it.")
    if needed_until and needed_until < timezone.localdate():
        raise Refused(f"{needed_until:%-d %B %Y} is past. Choose a later day.")


def _locked(request: KeyRequest) -> KeyRequest:
    """The request as it is now, until the end of the transaction."""
    # Lock first, read after: who waited for the lock would get the joined decider of before the wait.
    KeyRequest.objects.select_for_update().get(pk=request.pk)
    return KeyRequest.objects.select_related(
        "building__site", "holder__site", "holder_user", "requester", "decided_by"
    ).get(pk=request.pk)


def _locked_for_decision(actor: User, request: KeyRequest, version: int) -> KeyRequest:
    request = _locked(request)
    if request.requester_id == actor.pk:
        raise Refused("You asked for this key yourself. Another manager of the building decides it.")
    if request.holder_user_id == actor.pk:
        raise Refused("This key is for you. Another manager of the building decides it.")
    if request.state != State.ASKED or request.version != version:
        raise Conflict(f"{_already(request)} Look at the request again; your decision was not taken.")
    return request


def _already(request: KeyRequest) -> str:
    """Who was first, in a sentence."""
    if request.state == State.WITHDRAWN:
        return f"{request.requester} withdrew this request."
    if request.state == State.REFUSED:
        return f"{request.decided_by} already refused this request."
    if request.decided_by:
        return f"{request.decided_by} already approved this request."
    return "This request changed while you looked at it."


def _decide(actor: User, request: KeyRequest, state: KeyRequest.State, note: str) -> None:
    request.state, request.decided_by, request.decided_at = state, actor, timezone.now()
    request.decision_note = note.strip()
    request.version += 1
    request.save(update_fields=["state", "decided_by", "decided_at", "decision_note", "version"])


def _refuse_handing_out(actor: User, request: KeyRequest, grant: Grant, copy: KeyCopy) -> None:
    if grant.copy_id is not None:
        raise Conflict(f"The key for this request was already handed out, as copy {grant.copy}.")
    if request.state != State.APPROVED:
        raise Refused("This request is not approved, so no key is handed out on it.")
    if copy.symbol_id != grant.symbol_id:
        raise Refused(f"Copy {copy} is not a copy of {grant.symbol}. Take one from the list.")
    if grant.is_master and grant.approved_by_id == actor.pk:
        raise Refused("You approved this master key. Somebody else at the desk hands it out.")


def _tell(
    actor: User,
    request: KeyRequest,
    verb: str,
    sentence: str,
    *,
    things: Sequence[Door | KeySymbol | KeyCopy] = (),
    note: str = "",
) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=request.building.site_id,
        subjects=[request, request.holder, *things],
        detail={"note": note.strip()} if note.strip() else {},
    )


def _doors(doors: Sequence[Door]) -> str:
    return f"a key to {doors[0].number}" if len(doors) == 1 else f"keys to {len(doors)} doors"


def _short(names: str) -> str:
    return names if len(names) <= 100 else f"{names[:97]}…"
