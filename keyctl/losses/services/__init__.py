"""A lost key: the report, what it opens, notes and calls, the rules, the proof, the end."""

from keyctl.losses.services.choosing import choose_plan
from keyctl.losses.services.closing import cancel_case, close_case, join_cases, reopen_case
from keyctl.losses.services.looking import look
from keyctl.losses.services.noting import add_note, call_holder, tell_facts
from keyctl.losses.services.opening import open_case, take_up
from keyctl.losses.services.planning import make_plans, set_rates
from keyctl.losses.services.proving import prove_case
from keyctl.losses.services.reporting import confirm_report, refuse_report, report_own_loss
from keyctl.losses.services.ruling import set_rules

__all__ = [
    "add_note",
    "call_holder",
    "cancel_case",
    "choose_plan",
    "close_case",
    "confirm_report",
    "join_cases",
    "look",
    "make_plans",
    "open_case",
    "prove_case",
    "refuse_report",
    "reopen_case",
    "report_own_loss",
    "set_rates",
    "set_rules",
    "take_up",
    "tell_facts",
]
