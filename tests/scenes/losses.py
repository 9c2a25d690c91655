"""A lost key: its case, a proof, a holder's report."""

from typing import Any

from keyctl.keys import services as keys
from keyctl.losses.models import LossCase, LossProof, LossReport, LostCopy
from tests import factories
from tests.scenes.base import Base

OF_CASE = ("detail", "doors", "holders", "call", "look", "note", "join", "prove", "close", "cancel", "reopen")
OF_REPORT = ("report", "confirm", "refuse")


def routes(base: Base) -> dict[str, Any]:
    cast = base.cast
    lost, held = (factories.make_copy(base.change, base.cabinet) for _ in range(2))
    keys.report_lost(actor=cast.desk, copy=lost, note="On the way home")
    keys.hand_out(actor=cast.desk, copy=held, holder=base.holder, signed_as="Holder")
    case = LossCase.objects.get()
    report = LossReport.objects.create(copy=held, holder=base.holder, reported_by=cast.requester, note="Gone")
    return {
        **{f"losses:{name}": case.pk for name in OF_CASE},
        **{f"losses:{name}": report.pk for name in OF_REPORT},
        "losses:own": held.pk,
        "prints:incident": case.pk,
        "losses:facts": LostCopy.objects.get().pk,
        "losses:proof": LossProof.objects.create(case=case, asked_by=cast.officer).pk,
        "losses:rule": cast.north.pk,
    }
