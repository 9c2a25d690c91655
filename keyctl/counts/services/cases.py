"""A difference is explained, set right by an act of custody where the register was wrong, and closed."""

from collections.abc import Callable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import CASE_WORKERS
from keyctl.counts.models import CountCase
from keyctl.keys import services as keys
from keyctl.keys.access import DESK, LOSS_REPORTERS
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held, save_next
from keyctl.lib.language import in_sentence
from keyctl.places.access import has_role, require_role
from keyctl.recovery.services.wording import refuse_cuts

How, Kind, State = CountCase.How, CountCase.Kind, CountCase.State

ALLOWED: dict[CountCase.Kind, tuple[CountCase.How, ...]] = {
    Kind.MISSING: (How.OVERLOOKED, How.MOVED, How.RETURNED, How.AT_THE_DESK, How.LOST),
    Kind.MISPLACED: (How.PUT_BACK, How.MOVED, How.RETURNED, How.AT_THE_DESK),
    Kind.UNKNOWN: (How.NOT_OURS, How.AT_THE_DESK),
    Kind.LOST_FOUND: (How.FOUND, How.AT_THE_DESK),
    Kind.DESTROYED_FOUND: (How.DESTROYED_NOW, How.AT_THE_DESK),
}
INTO_A_CABINET = (How.MOVED, How.RETURNED, How.FOUND)


# The acts of custody ask for these roles themselves; whoever lacks one is not offered the act.
ACT_ROLES = dict.fromkeys(INTO_A_CABINET, DESK) | {How.LOST: LOSS_REPORTERS}
UNFIT = {KeyCopy.State.HELD: How.MOVED, KeyCopy.State.IN_CABINET: How.RETURNED}


def ways_out(actor: User, case: CountCase) -> list[CountCase.How]:
    """How the actor may explain it: a held copy is not moved, one in a cabinet is not taken back."""
    unfit = UNFIT.get(KeyCopy.State(case.copy.state)) if case.copy else None
    barred = {how for how, roles in ACT_ROLES.items() if not has_role(actor, case.count.site, *roles)}
    return [how for how in ALLOWED[Kind(case.kind)] if how != unfit and how not in barred]


@transaction.atomic
def explain_case(
    *,
    actor: User,
    case: CountCase,
    how: str,
    note: str = "",
    cabinet: Cabinet | None = None,
    version: int | None = None,
) -> CountCase:
    """How it came about; where the register was wrong, an act of custody under its own rules corrects it."""
    case = _locked(case, version)
    require_role(actor, case.count.site, *CASE_WORKERS)
    if case.state != State.OPEN:
        raise Conflict(
            _("This case is {value} already. Look at it again.").format(
                value=in_sentence(case.get_state_display())
            )
        )
    chosen = How(how)
    if chosen not in ALLOWED[Kind(case.kind)]:
        raise Refused(
            _("“{label}” does not explain “{kind}”. Choose another way.").format(
                label=chosen.label, kind=case.get_kind_display()
            )
        )
    if not note.strip():
        raise Refused(_("Say how it came about and who told you; the evidence report repeats it."))
    if case.copy:
        refuse_cuts(note, case.copy.symbol.system.format_id)
    _set_right(actor, case, chosen, note.strip(), cabinet)
    case.state, case.how, case.note = State.EXPLAINED, chosen, note.strip()
    case.explained_at, case.explained_by = timezone.now(), actor
    save_next(case, "state", "how", "note", "explained_at", "explained_by")
    _tell(actor, case, "explained", f"explained {_named(case)}: {chosen.label.lower()}")
    return case


@transaction.atomic
def reopen_case(*, actor: User, case: CountCase, version: int | None = None) -> CountCase:
    """The explanation does not hold. Whatever was moved stays moved."""
    case = _locked(case, version)
    require_role(actor, case.count.site, *CASE_WORKERS)
    if case.state != State.EXPLAINED:
        raise Conflict(
            _("This case is {value}. Look at it again.").format(value=in_sentence(case.get_state_display()))
        )
    case.state, case.how = State.OPEN, ""
    case.explained_at = case.explained_by = None
    save_next(case, "state", "how", "explained_at", "explained_by")
    _tell(actor, case, "reopened", f"did not take the explanation of {_named(case)}")
    return case


@transaction.atomic
def close_case(*, actor: User, case: CountCase, version: int | None = None) -> CountCase:
    case = _locked(case, version)
    require_role(actor, case.count.site, *CASE_WORKERS)
    if case.state == State.CLOSED:
        raise Conflict(
            _("{closed_by} has closed this case already. Look at it again.").format(closed_by=case.closed_by)
        )
    if case.state == State.OPEN:
        raise Refused(_("Nobody has explained this difference yet. Explain it first, then close it."))
    if case.is_weighty and actor.pk == case.counted_by_id:
        raise Refused(
            _(
                "You counted this master key or key of a critical door yourself. Somebody else closes its "
                "case."
            )
        )
    case.state, case.closed_at, case.closed_by = State.CLOSED, timezone.now(), actor
    save_next(case, "state", "closed_at", "closed_by")
    _tell(actor, case, "case_closed", f"closed the case of {_named(case)}")
    return case


def _set_right(actor: User, case: CountCase, how: CountCase.How, note: str, cabinet: Cabinet | None) -> None:
    """The act of custody that the explanation stands for; none where the register was right."""
    if how in INTO_A_CABINET and cabinet is None:
        raise Refused(_("Say into which cabinet the key goes."))
    copy = case.copy
    if copy is None:
        return
    reason = f"{case.count}: {note}"
    acts: dict[CountCase.How, Callable[[], object]] = {
        How.LOST: lambda: keys.report_lost(actor=actor, copy=copy, note=reason),
    }
    if cabinet is not None:
        acts |= {
            How.MOVED: lambda: keys.move_copies(actor=actor, copies=[copy], cabinet=cabinet),
            How.RETURNED: lambda: keys.return_keys(actor=actor, copies=[copy], cabinet=cabinet),
            How.FOUND: lambda: keys.take_found(actor=actor, copy=copy, cabinet=cabinet, note=reason),
        }
    acts.get(how, lambda: None)()


def _locked(case: CountCase, version: int | None) -> CountCase:
    fresh = held(CountCase.objects.with_names(), case.pk)
    if version is not None and fresh.version != version:
        raise Conflict(_("Somebody else worked on this case while you looked at it. Look at it again."))
    return fresh


def _named(case: CountCase) -> str:
    return f"{case.label} ({in_sentence(case.get_kind_display())}, count {case.count.number})"


def _tell(actor: User, case: CountCase, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"count.{verb}",
        sentence=sentence,
        site_id=case.count.site_id,
        subjects=[thing for thing in (case, case.count, case.copy) if thing],
        detail={"note": case.note} if case.note else {},
    )
