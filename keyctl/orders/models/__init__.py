"""Work orders, their lines, and what is kept beside them: checks, try-outs, doors kept shut for a time."""

from keyctl.orders.models.lines import MOST_COPIES, OrderLine
from keyctl.orders.models.lockouts import LockOut
from keyctl.orders.models.orders import WorkOrder, WorkOrderQuerySet
from keyctl.orders.models.trying import Check, KeyTried, TryOut

__all__ = [
    "MOST_COPIES",
    "Check",
    "KeyTried",
    "LockOut",
    "OrderLine",
    "TryOut",
    "WorkOrder",
    "WorkOrderQuerySet",
]
