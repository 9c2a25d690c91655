"""Writing work orders: open them, work on their lines, close them."""

from keyctl.orders.services.areas import Part, no_more_parts, write_area, write_part
from keyctl.orders.services.checking import check_line, report_unreached
from keyctl.orders.services.closing import cancel_order, drop_order
from keyctl.orders.services.cutting import cut_line, open_cut_order, order_keys
from keyctl.orders.services.moving import allowed_acts, assign_order, go_on, let_wait, start_order
from keyctl.orders.services.opening import open_pin_order, open_swap_order
from keyctl.orders.services.pinning import start_pin_all
from keyctl.orders.services.rounds import LINES_A_PAGE, DoorTold, RoundTold, tell_round
from keyctl.orders.services.working import choose_core, complete_swap, pin_line

__all__ = [
    "LINES_A_PAGE",
    "DoorTold",
    "Part",
    "RoundTold",
    "allowed_acts",
    "assign_order",
    "cancel_order",
    "check_line",
    "choose_core",
    "complete_swap",
    "cut_line",
    "drop_order",
    "go_on",
    "let_wait",
    "no_more_parts",
    "open_cut_order",
    "open_pin_order",
    "open_swap_order",
    "order_keys",
    "pin_line",
    "report_unreached",
    "start_order",
    "start_pin_all",
    "tell_round",
    "write_area",
    "write_part",
]
