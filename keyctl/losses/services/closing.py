"""The end of a case: by proof, or by an officer's written reason; and taking it up again."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.losses.access import DECIDERS
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import LossCase
from keyctl.losses.selectors import proof_state, work_of
from keyctl.losses.services.locking import State, locked_case, refuse_alone, tell
from keyctl.losses.services.noting import clean_words
from keyctl.losses.services.opening import LONGEST_NOTE


@transaction.atomic
def close_case(
    *, actor: User, case: LossCase, version: int, outcome: str, without_proof: bool = False
) -> LossCase:
    """Proven, or without a proof where the officer says why: the key is back, or the doors do not matter."""
    case = locked_case(actor, case, version, *DECIDERS)
    refuse_alone(actor, case, "closes it")
    _refuse_open_work(case)
    state = proof_state(case)
    is_proven = state is not None and state.holds
    if not is_proven and not without_proof:
        raise Refused(
            _(
                "No proof shows that the lost keys turn nothing as the cores are pinned now. Prove it first, "
                "or close it without a proof and say why."
            )
        )
    words = "proven" if is_proven else "without a proof"
    _end(actor, case, State.CLOSED, outcome)
    tell(actor, case, "closed", f"closed {in_english(case)}, {words}: {case.outcome}"[:400], proven=is_proven)
    return case


@transaction.atomic
def cancel_case(*, actor: User, case: LossCase, version: int, outcome: str) -> LossCase:
    """A report that was wrong: every copy is in hand, and was all the time."""
    case = locked_case(actor, case, version, *DECIDERS)
    refuse_alone(actor, case, "cancels it")
    _refuse_open_work(case)
    if case.lost_copies.filter(found_at__isnull=True).exists():
        raise Refused(
            _("A copy of this case is still lost. Take it back at the desk first, or close the case.")
        )
    _end(actor, case, State.CANCELLED, outcome)
    tell(actor, case, "cancelled", f"cancelled {in_english(case)}: {case.outcome}"[:400])
    return case


@transaction.atomic
def reopen_case(*, actor: User, case: LossCase, version: int, note: str) -> LossCase:
    """A closed case whose keys turn something again is worked once more."""
    case = locked_case(actor, case, version, *DECIDERS, states=[State.CLOSED])
    words = clean_words(case, note, missing=_("Say why the case is taken up again."))
    _refuse_second(case)
    case.state = State.OPEN
    case.closed_by, case.closed_at, case.outcome = None, None, ""
    save_next(case, "state", "closed_by", "closed_at", "outcome")
    tell(actor, case, "reopened", f"took up {in_english(case)} again: {words}"[:400])
    return case


@transaction.atomic
def join_cases(*, actor: User, case: LossCase, other: LossCase, version: int) -> LossCase:
    """Keys that are lost together are dealt with together: the other case's copies come into this one."""
    if case.pk == other.pk:
        raise Refused(_("A case is not joined to itself. Choose another one."))
    first, second = sorted((case, other), key=lambda each: each.pk)
    for each in (first, second):
        LossCase.objects.select_for_update().get(pk=each.pk)
    case = locked_case(actor, case, version, *DECIDERS, states=[State.OPEN])
    other = locked_case(actor, other, None, *DECIDERS, states=[State.OPEN])
    if case.site_id != other.site_id:
        raise Refused(
            _("{other} is a case of {site}. Cases of one site are joined.").format(
                other=other, site=other.site
            )
        )
    moved = list(other.lost_copies.select_related("copy"))
    other.lost_copies.update(case=case)
    case.has_master = LostKeys.of(case).has_master
    save_next(case, "has_master")
    _end(actor, other, State.CANCELLED, _("Joined to {case}.").format(case=case), is_ours=True)
    copies = [row.copy for row in moved]
    words = f"took the {len(copies)} lost copies of {in_english(other)} into {in_english(case)}"
    tell(actor, case, "joined", words, [other, *copies])
    return case


def _end(actor: User, case: LossCase, state: LossCase.State, outcome: str, *, is_ours: bool = False) -> None:
    words = outcome if is_ours else clean_words(case, outcome, missing=_("Say how it ended; others read it."))
    case.state, case.closed_by, case.closed_at = state, actor, timezone.now()
    case.outcome = words[:LONGEST_NOTE]
    save_next(case, "state", "closed_by", "closed_at", "outcome")


def _refuse_open_work(case: LossCase) -> None:
    work = work_of(case)
    if work.open:
        numbers = ", ".join(str(row.order.number) for row in work.orders if row.order.is_open)
        raise Refused(
            _(
                "Work is still open for {case} (orders {numbers}). Finish the orders or cancel them first."
            ).format(case=case, numbers=numbers)
        )


def _refuse_second(case: LossCase) -> None:
    """Two unfinished cases of one key would tell of the same doors twice."""
    symbols = LostKeys.of(case).symbols
    others = LossCase.objects.unfinished().filter(site=case.site, lost_copies__symbol__in=symbols)
    if other := others.first():
        raise Refused(_("{other} is open for the same key. Go on with that one.").format(other=other))
