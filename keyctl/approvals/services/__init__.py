"""What is done to requests: ask, decide, withdraw, make ready, hand out."""

from keyctl.approvals.services.asking import MOST_DOORS, NO_SUCH_DOOR, ask_for_key
from keyctl.approvals.services.customising import change_settings
from keyctl.approvals.services.deciding import (
    NO_LONGER_PROPOSED,
    approve_request,
    approve_step,
    refuse_request,
)
from keyctl.approvals.services.ending import withdraw_request
from keyctl.approvals.services.fulfilment import begin, collect, hand_out_grant, look_again
from keyctl.approvals.services.ruling import (
    add_rule,
    change_rule,
    is_first,
    move_rule_up,
    remove_rule,
    write_rules_down,
)
from keyctl.approvals.services.substituting import end_substitute, name_substitute

__all__ = [
    "MOST_DOORS",
    "NO_LONGER_PROPOSED",
    "NO_SUCH_DOOR",
    "add_rule",
    "approve_request",
    "approve_step",
    "ask_for_key",
    "begin",
    "change_rule",
    "change_settings",
    "collect",
    "end_substitute",
    "hand_out_grant",
    "is_first",
    "look_again",
    "move_rule_up",
    "name_substitute",
    "refuse_request",
    "remove_rule",
    "withdraw_request",
    "write_rules_down",
]
