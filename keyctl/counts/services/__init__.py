"""Setting rules, counting, settling differences, handing cabinets over; each act is a line of history."""

from keyctl.counts.services.cases import close_case, explain_case, reopen_case
from keyctl.counts.services.closing import cancel_count, close_count
from keyctl.counts.services.counting import begin_count, confirm_witness, start_count
from keyctl.counts.services.handovers import excuse_giver, sign_handover
from keyctl.counts.services.rules import adopt_set, end_rule, set_rule
from keyctl.counts.services.scanning import declare_keys, scan_keys, undo_scan

__all__ = [
    "adopt_set",
    "begin_count",
    "cancel_count",
    "close_case",
    "close_count",
    "confirm_witness",
    "declare_keys",
    "end_rule",
    "excuse_giver",
    "explain_case",
    "reopen_case",
    "scan_keys",
    "set_rule",
    "sign_handover",
    "start_count",
    "undo_scan",
]
