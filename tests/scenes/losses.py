"""A lost key: its case, a proof, a holder's report."""

from typing import Any

from keyctl.keys import services as keys
from keyctl.losses.models import LossCase, LossProof, LossReport, RekeyPlan
from tests import factories
from tests.scenes.base import Base

OF_CASE = ("detail", "doors", "holders", "call", "look", "note", "join", "prove", "close", "cancel", "reopen")
OF_PLANS = ("plans", "make-plans", "empty-cores")
OF_REPORT = ("report", "confirm", "refuse")


def routes(base: Base) -> dict[str, Any]:
    cast = base.cast
    lost, held = (factories.make_copy(base.change, base.cabinet) for _ in range(2))
    keys.report_lost(actor=cast.desk, copy=lost, note="On the way home")
    keys.hand_out(actor=cast.desk, copy=held, holder=base.holder, signed_as="Holder")
    case = LossCase.objects.get(site=cast.north)
    report = LossReport.objects.create(copy=held, holder=base.holder, reported_by=cast.requester, note="Gone")
    facts = {"possible": False, "scope": "all", "why_not": ["None"]}
    plan = RekeyPlan.objects.create(
        case=case, ordinal=1, kind="replace", label="Another key", figures=facts, look=1, made_by=cast.officer
    )
    return {
        **{f"losses:{name}": case.pk for name in (*OF_CASE, *OF_PLANS)},
        "losses:choose": plan.pk,
        "losses:rates": cast.north.pk,
        **{f"losses:{name}": report.pk for name in OF_REPORT},
        "losses:own": held.pk,
        "losses:take-up": lost.pk,
        "prints:incident": case.pk,
        "losses:facts": case.lost_copies.get().pk,
        "losses:proof": LossProof.objects.create(case=case, asked_by=cast.officer).pk,
        "losses:rule": cast.north.pk,
    }
