"""The proof that the lost keys of a case turn nothing: asked for, made as a job where it is long, kept."""

from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import english, in_english
from keyctl.lib.numbers import as_number
from keyctl.losses.access import PROVERS
from keyctl.losses.figures import Figures
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseDoor, LeftOver, LossCase, LossProof
from keyctl.losses.services.locking import State, locked_case
from keyctl.losses.trying import Tried, count_cores, try_keys
from keyctl.places.access import require_role

PROVE = "losses.prove"
# Cores that are tried while somebody waits for the page.
MOST_AT_ONCE = 3000
ROWS_AT_ONCE = 1000
DOING = gettext_lazy("Trying the lost keys on the pins of all cores")

PROVABLE = (*LossCase.UNFINISHED, State.CLOSED)


@transaction.atomic
def prove_case(*, actor: User, case: LossCase, version: int | None = None) -> LossProof:
    """Try the lost keys on every core. A long proof is a job; the proof says which, and is not finished."""
    case = locked_case(actor, case, version, *PROVERS, states=PROVABLE)
    keys = LostKeys.of(case)
    if not keys.symbols:
        raise Refused(_("{case} names no lost key; there is nothing to prove.").format(case=case))
    if Job.objects.unfinished().about(case).filter(kind=PROVE).exists():
        raise Conflict(
            _("A proof of {case} is running already; its job tells how far it is.").format(case=case)
        )
    proof = LossProof.objects.create(case=case, asked_by=actor)
    if count_cores(keys.symbols) > MOST_AT_ONCE:
        proof.job = _start(actor, case, proof)
        proof.save(update_fields=["job"])
    else:
        _keep(actor, proof, try_keys(keys.symbols))
    return proof


def run_proof(running: Running) -> dict[str, Any]:
    """The work of the job. It only reads, so that after a stop it begins anew."""
    proof = LossProof.objects.select_related("case__site").get(pk=running.parameters["proof"])
    require_role(running.actor, proof.case.site, *PROVERS)
    keys = LostKeys.of(proof.case).symbols
    total = count_cores(keys)
    running.step(0, total, DOING)
    tried = try_keys(keys, lambda done: running.step(done, total, DOING))
    with transaction.atomic():
        _keep(running.actor, proof, tried)
    return {
        "sentence": sentence_of(proof),
        "url": reverse("losses:proof", args=[proof.pk]),
        "facts": {_("Cores"): proof.cores, _("Keys"): proof.keys, _("Left"): proof.left},
    }


def prove_unasked(case: LossCase) -> LossProof:
    """By the nightly look, in nobody's name."""
    proof = LossProof.objects.create(case=case)
    tried = try_keys(LostKeys.of(case).symbols)
    with transaction.atomic():
        _store(proof, tried)
        _let_follow(proof)
    return proof


def sentence_of(proof: LossProof) -> str:
    facts = {
        "case": proof.case,
        "keys": ngettext("{count} lost key", "{count} lost keys", proof.keys).format(count=proof.keys),
        "cores": ngettext("{count} core", "{count} cores", proof.cores).format(count=as_number(proof.cores)),
    }
    if proof.left:
        return ngettext(
            "{case}: tried {keys} on {cores}; {left} core still let one in.",
            "{case}: tried {keys} on {cores}; {left} cores still let one in.",
            proof.left,
        ).format(left=as_number(proof.left), **facts)
    return ngettext(
        "{case}: tried {keys} on {cores}; the lost key turns nothing.",
        "{case}: tried {keys} on {cores}; the lost keys turn nothing.",
        proof.keys,
    ).format(**facts)


def _start(actor: User, case: LossCase, proof: LossProof) -> Job:
    return start_job(
        actor=actor,
        kind=PROVE,
        site=case.site,
        parameters={"proof": str(proof.pk)},
        subjects=[case],
        back_url=reverse("losses:detail", args=[case.pk]),
        about=in_english(case),
    )


def _keep(actor: User, proof: LossProof, tried: Tried) -> None:
    _store(proof, tried)
    _let_follow(proof)
    record(
        actor=actor,
        verb="loss.proven",
        sentence=in_english(lambda: sentence_of(proof)),
        site_id=proof.case.site_id,
        subjects=[proof.case, proof],
        detail={"cores": proof.cores, "left": proof.left, "unknown": proof.unknown, "digest": proof.digest},
    )


def _store(proof: LossProof, tried: Tried) -> None:
    proof.finished_at, proof.digest = timezone.now(), tried.digest
    proof.keys, proof.cores, proof.unknown = tried.keys, tried.cores, tried.unknown
    proof.sites, proof.left = len(tried.sites), len({hit.core.pk for hit in tried.hits})
    proof.save()
    with english():  # a proof keeps them
        left = [
            LeftOver(
                proof=proof,
                core=hit.core,
                symbol_id=hit.symbol,
                site_id=hit.core.site_id,
                whereabouts=hit.core.whereabouts[:200],
                operates=hit.operates,
                withdraws=hit.withdraws,
            )
            for hit in tried.hits
        ]
    LeftOver.objects.bulk_create(left, batch_size=ROWS_AT_ONCE)


def _let_follow(proof: LossProof) -> None:
    """A clean proof brings the case on; one that is not takes a proven case back to work."""
    case = LossCase.objects.select_for_update().get(pk=proof.case_id)
    if proof.left == 0 and case.state in {State.OPEN, State.PLANNED, State.WORKING}:
        case.state = State.PROVEN
    elif proof.left and case.state == State.PROVEN:
        case.state = State.WORKING if case.case_orders.exists() else State.OPEN
    if proof.left == 0:
        CaseDoor.objects.of(case).update(state=CaseDoor.State.CLEARED)
        case.figures = Figures.of(case).all_cleared().as_json()
    save_next(case, "state", "figures")
    proof.case = case
