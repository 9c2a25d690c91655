"""Writing work orders: open them, work on their lines, close them."""

from keyctl.orders.services.areas import Part, no_more_parts, write_area, write_part
from keyctl.orders.services.checking import check_line, report_unreached
from keyctl.orders.services.closing import cancel_order, drop_order
from keyctl.orders.services.cutting import cut_line, open_cut_order, order_keys
from keyctl.orders.services.decoding import core_decoded, finish_decoded, open_decode_order
from keyctl.orders.services.inspecting import open_follow_up, open_inspect_order
from keyctl.orders.services.locking_out import (
    allow_ways_out,
    change_until,
    open_lock_out,
    refuse_while_shut,
)
from keyctl.orders.services.moving import allowed_acts, assign_order, go_on, let_wait, start_order
from keyctl.orders.services.opening import open_pin_order, open_swap_order
from keyctl.orders.services.pinning import start_pin_all
from keyctl.orders.services.recovering import open_recover_order, recovery_ended
from keyctl.orders.services.rekeying import open_area_order
from keyctl.orders.services.rounds import LINES_A_PAGE, DoorTold, RoundTold, tell_round
from keyctl.orders.services.setting_days import set_due_day
from keyctl.orders.services.settled import finish_settled_swap, hold_lines
from keyctl.orders.services.taking_back import take_back_order
from keyctl.orders.services.trying import KeyDue, keys_due, let_go_untried, look_at, record_try_out
from keyctl.orders.services.working import choose_core, complete_swap, pin_line

__all__ = [
    "LINES_A_PAGE",
    "DoorTold",
    "KeyDue",
    "Part",
    "RoundTold",
    "allow_ways_out",
    "allowed_acts",
    "assign_order",
    "cancel_order",
    "change_until",
    "check_line",
    "choose_core",
    "complete_swap",
    "core_decoded",
    "cut_line",
    "drop_order",
    "finish_decoded",
    "finish_settled_swap",
    "go_on",
    "hold_lines",
    "keys_due",
    "let_go_untried",
    "let_wait",
    "look_at",
    "no_more_parts",
    "open_area_order",
    "open_cut_order",
    "open_decode_order",
    "open_follow_up",
    "open_inspect_order",
    "open_lock_out",
    "open_pin_order",
    "open_recover_order",
    "open_swap_order",
    "order_keys",
    "pin_line",
    "record_try_out",
    "recovery_ended",
    "refuse_while_shut",
    "report_unreached",
    "set_due_day",
    "start_order",
    "start_pin_all",
    "take_back_order",
    "tell_round",
    "write_area",
    "write_part",
]
