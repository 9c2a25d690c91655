"""What people say about work orders."""

from keyctl.orders.forms.area import NewArea
from keyctl.orders.forms.opening import (
    NewCutOrder,
    NewDecodeOrder,
    NewInspectOrder,
    NewLockOut,
    NewOrder,
    NewPinOrder,
    NewRecoverOrder,
    NewSwapOrder,
    OrderFilter,
)
from keyctl.orders.forms.working import (
    AllowWaysOut,
    Assign,
    ChangeUntil,
    Checklist,
    Checks,
    ChooseCore,
    FindLine,
    LetGo,
    LetWait,
    TryOutForm,
    Unreached,
)

__all__ = [
    "AllowWaysOut",
    "Assign",
    "ChangeUntil",
    "Checklist",
    "Checks",
    "ChooseCore",
    "FindLine",
    "LetGo",
    "LetWait",
    "NewArea",
    "NewCutOrder",
    "NewDecodeOrder",
    "NewInspectOrder",
    "NewLockOut",
    "NewOrder",
    "NewPinOrder",
    "NewRecoverOrder",
    "NewSwapOrder",
    "OrderFilter",
    "TryOutForm",
    "Unreached",
]
