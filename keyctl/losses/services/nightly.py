"""The nightly look: what was proven once is tried again, for pins change and blanks come."""

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext

from keyctl.losses.lost import LostKeys
from keyctl.losses.models import LossCase, LossProof
from keyctl.losses.selectors import last_proof
from keyctl.losses.services.proving import prove_unasked
from keyctl.losses.services.telling import tell_let_in_again
from keyctl.losses.trying import try_keys
from keyctl.systems.models import KeySymbol

State = LossCase.State


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
        return gettext("No case of a loss is proven; there was nothing to try again.")
    words = f"{opened} of them turn something again" if opened else "they still turn nothing"
    return gettext("Tried the lost keys of {proven} proven cases again: {words}.").format(
        proven=len(proven), words=words
    )


def _proven_cases() -> list[tuple[LossCase, LossProof]]:
    found = []
    for case in LossCase.objects.filter(state__in=[State.PROVEN, State.CLOSED]).with_names():
        proof = last_proof(case)
        if proof and proof.is_clean:
            found.append((case, proof))
    return found
