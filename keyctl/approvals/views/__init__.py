"""Pages of requests."""

from keyctl.approvals.views.asking import ask, ask_building, index, withdraw
from keyctl.approvals.views.customising import settings
from keyctl.approvals.views.deciding import approve, refuse
from keyctl.approvals.views.detail import detail
from keyctl.approvals.views.fulfilling import desk, hand_out, look_again
from keyctl.approvals.views.ruling import (
    add_rule,
    change_rule,
    decisions,
    end_substitute,
    move_rule,
    name_substitute,
    remove_rule,
    rules,
    substitutes,
    write_rules,
)

__all__ = [
    "add_rule",
    "approve",
    "ask",
    "ask_building",
    "change_rule",
    "decisions",
    "desk",
    "detail",
    "end_substitute",
    "hand_out",
    "index",
    "look_again",
    "move_rule",
    "name_substitute",
    "refuse",
    "remove_rule",
    "rules",
    "settings",
    "substitutes",
    "withdraw",
    "write_rules",
]
