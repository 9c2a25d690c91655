"""Requests for keys, the steps that decide them, and the rules that say which steps they need."""

from keyctl.approvals.models.requests import Grant, KeyRequest
from keyctl.approvals.models.rules import MOST_SILENT_HOURS, ApprovalRule, Deciders, Substitute
from keyctl.approvals.models.settings import MOST_COLLECT_DAYS, RequestSettings
from keyctl.approvals.models.steps import Step

__all__ = [
    "MOST_COLLECT_DAYS",
    "MOST_SILENT_HOURS",
    "ApprovalRule",
    "Deciders",
    "Grant",
    "KeyRequest",
    "RequestSettings",
    "Step",
    "Substitute",
]
