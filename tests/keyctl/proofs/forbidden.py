"""What the constraints of proofs, findings and acceptances forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.proofs.models import Acceptance, Finding, Proof
from tests import factories
from tests.cast import Cast


def a_proof(cast: Cast, **facts: Any) -> Proof:
    return Proof.objects.create(asked_by=cast.officer, **facts)


def a_proof_of_a_site_and_a_system(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    a_proof(cast, site=cast.north, system=system)


def a_proof_finished_before_it_was_asked_for(cast: Cast) -> None:
    a_proof(cast, finished_at=timezone.now() - timedelta(hours=1))


def a_finding(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    row = {"core": core, "symbol": factories.change_key(system), "site": cast.north, "is_foreign": False}
    row |= {"pinned_at": timezone.now(), "kind": "does-not-turn", "cause": "unknown", "words": "Not known."}
    proof = a_proof(cast)
    for _ in range(times):
        Finding.objects.create(proof=proof, **row | facts)


def an_acceptance(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    row = {"core": core, "symbol": factories.change_key(system), "kind": "does-not-turn", "reason": "Known"}
    today = timezone.localdate()
    row |= {"pinned_at": core.pinned_at, "accepted_by": cast.officer, "accepted_on": today, "until": today}
    for _ in range(times):
        Acceptance.objects.create(**row | facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "proof_is_of_a_site_or_of_a_system": a_proof_of_a_site_and_a_system,
    "proof_is_finished_after_it_was_asked_for": a_proof_finished_before_it_was_asked_for,
    "finding_is_told_once_in_a_proof": lambda cast: a_finding(cast, times=2),
    "finding_says_its_cause": lambda cast: a_finding(cast, words=""),
    "finding_is_accepted_once_until_a_day": lambda cast: an_acceptance(cast, times=2),
    "acceptance_says_why": lambda cast: an_acceptance(cast, reason=""),
    "acceptance_ends_after_it_began": lambda cast: an_acceptance(
        cast, until=timezone.localdate() - timedelta(days=1)
    ),
    "acceptance_that_was_ended_says_by_whom": lambda cast: an_acceptance(cast, ended_at=timezone.now()),
}
