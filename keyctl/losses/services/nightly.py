"""The nightly look: what was proven once is tried again, for pins change and blanks come."""

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import LossCase, LossProof
from keyctl.losses.selectors import last_proof
from keyctl.losses.services.proving import prove_unasked
from keyctl.losses.services.telling import tell_let_in_again
from keyctl.losses.trying import try_keys
from keyctl.systems.models import KeySymbol

State = LossCase.State

NONE_PROVEN = kept_text(gettext_noop("No case of a loss is proven; there was nothing to try again."))
STILL_NOTHING = kept_text(
    gettext_noop("Lost keys tried again, of proven cases: {proven}. They still turn nothing.")
)
TURN_AGAIN = kept_text(
    gettext_noop(
        "Lost keys tried again, of proven cases: {proven}. Cases whose keys turn something again: {opened}."
    )
)


def prove_again(now: datetime) -> str:
    """One pass over the pins for the lost keys of all cases; a proof of its own where one lets a key in."""
    proven = _proven_cases()
    keys: dict[UUID, KeySymbol] = {}
    for case, _ in proven:
        keys |= LostKeys.of(case).symbols
    turning = {hit.symbol for hit in try_keys(keys).hits} if keys else set()
    opened = 0
    for case, proof in proven:
        if turning & LostKeys.of(case).symbols.keys():
            tell_let_in_again(case, prove_unasked(case))
            opened += 1
        else:
            LossProof.objects.filter(pk=proof.pk).update(confirmed_at=now)
    if not proven:
        return NONE_PROVEN
    return (TURN_AGAIN if opened else STILL_NOTHING).format(proven=len(proven), opened=opened)


def _proven_cases() -> list[tuple[LossCase, LossProof]]:
    found = []
    for case in LossCase.objects.filter(state__in=[State.PROVEN, State.CLOSED]).with_names():
        proof = last_proof(case)
        if proof and proof.is_clean:
            found.append((case, proof))
    return found
