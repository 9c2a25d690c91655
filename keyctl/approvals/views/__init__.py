"""Pages of requests."""

from keyctl.approvals.views.asking import ask, ask_building, index, withdraw
from keyctl.approvals.views.deciding import approve, refuse
from keyctl.approvals.views.detail import detail
from keyctl.approvals.views.fulfilling import hand_out

__all__ = ["approve", "ask", "ask_building", "detail", "hand_out", "index", "refuse", "withdraw"]
