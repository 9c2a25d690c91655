"""What is done to requests: ask, decide, withdraw, make ready, hand out."""

from keyctl.approvals.services.asking import MOST_DOORS, NO_SUCH_DOOR, ask_for_key, withdraw_request
from keyctl.approvals.services.deciding import (
    NO_LONGER_PROPOSED,
    approve_request,
    approve_step,
    refuse_request,
)
from keyctl.approvals.services.fulfilment import begin, hand_out_grant

__all__ = [
    "MOST_DOORS",
    "NO_LONGER_PROPOSED",
    "NO_SUCH_DOOR",
    "approve_request",
    "approve_step",
    "ask_for_key",
    "begin",
    "hand_out_grant",
    "refuse_request",
    "withdraw_request",
]
