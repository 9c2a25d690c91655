"""A lost key: the case, what it opens, the rules that say what is due, the plans, the work, the proof."""

from keyctl.losses.models.cases import CaseNote, LossCase, LossReport, LostCopy
from keyctl.losses.models.doors import CaseDoor, LossRule
from keyctl.losses.models.plans import CaseOrder, RekeyPlan, WorkRates
from keyctl.losses.models.proofs import LeftOver, LossProof

__all__ = [
    "CaseDoor",
    "CaseNote",
    "CaseOrder",
    "LeftOver",
    "LossCase",
    "LossProof",
    "LossReport",
    "LossRule",
    "LostCopy",
    "RekeyPlan",
    "WorkRates",
]
