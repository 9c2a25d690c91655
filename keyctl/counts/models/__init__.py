"""Counting keys: the rules, the counts and what was scanned, the differences, who keeps a cabinet."""

from keyctl.counts.models.cases import CountCase
from keyctl.counts.models.counting import Count, CountExpected, CountScan
from keyctl.counts.models.handovers import CabinetHandover, EvidenceReport
from keyctl.counts.models.rules import CountRule

__all__ = [
    "CabinetHandover",
    "Count",
    "CountCase",
    "CountExpected",
    "CountRule",
    "CountScan",
    "EvidenceReport",
]
