"""Deciding a request, step by step: each decision is one act of one person, who saw what the keys open."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.chain import Effect, further_steps
from keyctl.approvals.models import Grant, KeyRequest, Step
from keyctl.approvals.proposals import Proposal, key_now, proposals_for
from keyctl.approvals.rights import decider_for, decides
from keyctl.approvals.roll import Decider
from keyctl.approvals.ruling import figures_of, mark_of, rules_of
from keyctl.approvals.services.fulfilment import begin
from keyctl.approvals.services.locking import already, locked, tell
from keyctl.approvals.services.stepping import add_steps, current_step, next_step
from keyctl.approvals.services.telling import tell_decision
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol

NO_LONGER_PROPOSED = gettext_lazy(
    "These keys are no longer proposed: the cores behind the doors changed. Look at the proposals again."
)
OPEN_OTHER_DOORS = gettext_lazy(
    "These keys no longer open the doors that the page showed: cores changed. Look at the "
    "request again; your decision was not taken."
)
State = KeyRequest.State
# A proposal and what the rules look at in it, or nothing where it is proposed no more.
Seen = tuple[Proposal | None, Effect | None]


def approve_request(
    *, actor: User, request: KeyRequest, version: int, proposal: str, rules: str = "", note: str = ""
) -> KeyRequest:
    """The first decision, which chooses the keys. ``proposal`` is the key of one of the proposals as the page
    showed them, ``rules`` the mark of the rules that it named further steps by."""
    # Worked out before anything is held: others ask and decide meanwhile.
    proposals = proposals_for(request) if _may_choose(actor, request, version) else []
    chosen = next((each for each in proposals if each.key == proposal), None)
    figures = figures_of(chosen) if chosen else None
    return _choose(actor, request, version, (chosen, figures), rules=rules, note=note)


@transaction.atomic
def approve_step(*, actor: User, request: KeyRequest, version: int, keys: str, note: str = "") -> KeyRequest:
    """A further decision, about keys that are chosen. ``keys`` names their effect as the page showed it."""
    request, step, decider = _held(actor, request, version)
    if not request.grants.exists():
        raise Refused(_("No keys are chosen yet. Choose which ones to give."))
    _refuse_a_departed_holder(request)
    symbols = [grant.symbol for grant in request.grants.select_related("symbol")]
    if retired := [symbol for symbol in symbols if symbol.retired_at]:
        raise Refused(
            _("{retired} was retired after a loss and is not given any more. Refuse the request.").format(
                retired=retired[0]
            )
        )
    if key_now(symbols) != keys:
        raise Conflict(OPEN_OTHER_DOORS)
    return _approved(request, step, decider, symbols, note)


@transaction.atomic
def refuse_request(*, actor: User, request: KeyRequest, version: int, note: str) -> KeyRequest:
    request, step, decider = _held(actor, request, version)
    if not note.strip():
        raise Refused(_("Say why: whoever asked reads the note."))
    # Keys that an earlier step chose are given no more; history names them.
    request.grants.all().delete()
    _decide_step(step, decider, Step.State.REFUSED, note)
    _decide(decider.user, request, State.REFUSED, note)
    tell_decision(request)
    sentence = f"refused the request of {request.requester}{_in_place(decider)}"
    tell(actor, request, "request.refused", sentence, note=note)
    return request


@transaction.atomic
def _choose(
    actor: User, request: KeyRequest, version: int, seen: Seen, *, rules: str, note: str
) -> KeyRequest:
    request, step, decider = _held(actor, request, version)
    _refuse_a_departed_holder(request)
    if request.grants.exists():
        raise Conflict(_("The keys of this request are chosen already. Look at the request again."))
    chosen, figures = seen
    if chosen is None or figures is None or key_now(chosen.symbols) != chosen.key:
        raise Conflict(NO_LONGER_PROPOSED)
    now = rules_of(request.building.site)
    if rules and rules != mark_of(now):
        raise Conflict(
            _(
                "The approval rules of {site} changed while you looked. Look at the request again: others "
                "may have to decide after you. Your decision was not taken."
            ).format(site=request.building.site)
        )
    needed = further_steps(now, figures)
    Grant.objects.bulk_create(
        Grant(request=request, symbol=symbol, is_master=symbol.is_master, approved_by=actor)
        for symbol in chosen.symbols
    )
    step.is_apart = any(each.is_apart for each in needed)
    add_steps(request, needed)
    return _approved(request, step, decider, chosen.symbols, note)


def _may_choose(actor: User, request: KeyRequest, version: int) -> bool:
    """Keys are not worked out for somebody who is refused anyway; why, is said when the request is held."""
    if not KeyRequest.objects.filter(pk=request.pk, version=version, state=State.ASKED).exists():
        return False
    step = current_step(request)
    return step is not None and decides(actor, step)


def _approved(
    request: KeyRequest, step: Step, decider: Decider, symbols: Sequence[KeySymbol], note: str
) -> KeyRequest:
    """The step is decided; the next one begins, or the keys are made ready."""
    _decide_step(step, decider, Step.State.APPROVED, note)
    names = _short(", ".join(sorted(symbol.symbol for symbol in symbols)))
    keys = f"{names} for {request.holder}{_in_place(decider)}"
    if following := next_step(request):
        request.version += 1
        request.save(update_fields=["version"])
        sentence = f"approved one step of the request of {request.requester}: {keys}. Next: {following.label}"
        tell(decider.user, request, "request.step_approved", sentence, things=symbols, note=note)
        return request
    last_words = note.strip() or _last_note(request)
    _decide(decider.user, request, State.APPROVED, last_words)
    tell_decision(request)
    sentence = f"approved the request of {request.requester}: {keys}"
    tell(decider.user, request, "request.approved", sentence, things=symbols, note=note)
    begin(decider.user, request)
    return request


def _held(actor: User, request: KeyRequest, version: int) -> tuple[KeyRequest, Step, Decider]:
    """The request held, its step as it is now, and by what right the actor decides it."""
    request = locked(request)
    if request.state != State.ASKED or request.version != version:
        raise Conflict(
            _("{who_was_first} Look at the request again; your decision was not taken.").format(
                who_was_first=_who_was_first(request)
            )
        )
    step = current_step(request)
    if step is None:
        raise Refused(_("This request waits for no decision. Tell an administrator."))
    return request, step, decider_for(actor, step)


def _who_was_first(request: KeyRequest) -> str:
    last = request.steps.filter(state=Step.State.APPROVED).select_related("decided_by").last()
    if last is None or request.state != State.ASKED:
        return already(request)
    return _("{decided_by} already approved a step of this request.").format(decided_by=last.decided_by)


def _decide_step(step: Step, decider: Decider, state: Step.State, note: str) -> None:
    step.state, step.decided_by, step.for_person = state, decider.user, decider.for_person
    step.decided_at, step.note = timezone.now(), note.strip()
    step.save(update_fields=["state", "decided_by", "for_person", "decided_at", "note", "is_apart"])


def _decide(actor: User, request: KeyRequest, state: KeyRequest.State, note: str) -> None:
    request.state, request.decided_by, request.decided_at = state, actor, timezone.now()
    request.decision_note = note.strip()
    request.version += 1
    request.save(update_fields=["state", "decided_by", "decided_at", "decision_note", "version"])


def _refuse_a_departed_holder(request: KeyRequest) -> None:
    if not request.holder.is_active:
        raise Refused(
            _("{holder} no longer receives keys. Refuse the request.").format(holder=request.holder)
        )


def _last_note(request: KeyRequest) -> str:
    return request.steps.exclude(note="").values_list("note", flat=True).last() or ""


def _in_place(decider: Decider) -> str:
    return f" (in the place of {decider.for_person})" if decider.for_person else ""


def _short(names: str) -> str:
    return names if len(names) <= 100 else f"{names[:97]}…"
