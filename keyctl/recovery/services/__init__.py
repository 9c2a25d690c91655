"""Recovering a lost control key: case, readings, second person, new key; and the control blanks."""

from keyctl.recovery.services.approving import approve_control_key
from keyctl.recovery.services.blanks import (
    count_blanks,
    receive_blanks,
    register_blanks,
    scrap_blanks,
)
from keyctl.recovery.services.choosing import choose_core, choose_key
from keyctl.recovery.services.closing import CHECKS, cancel_case, close_case
from keyctl.recovery.services.cutting import CutKey, cut_blank
from keyctl.recovery.services.opening import open_case
from keyctl.recovery.services.reading import read_core, set_aside_reading
from keyctl.recovery.services.showing import (
    ControlKey,
    Difference,
    show_control_key,
    show_differences,
)

__all__ = [
    "CHECKS",
    "ControlKey",
    "CutKey",
    "Difference",
    "approve_control_key",
    "cancel_case",
    "choose_core",
    "choose_key",
    "close_case",
    "count_blanks",
    "cut_blank",
    "open_case",
    "read_core",
    "receive_blanks",
    "register_blanks",
    "scrap_blanks",
    "set_aside_reading",
    "show_control_key",
    "show_differences",
]
