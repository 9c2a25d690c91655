"""What is done at the counter: keys laid down, taken off again, and the act that is signed."""

from keyctl.desk.services.feeds import end_feed, make_feed, renew_feed
from keyctl.desk.services.finishing import finish
from keyctl.desk.services.laying import choose_taker, lay_ready, scan, take_found_key
from keyctl.desk.services.pausing import end_pause, pause_reminders, set_due_rules
from keyctl.desk.services.reminding import remind_of_due_keys
from keyctl.desk.services.tray import agree, clear_tray, leave_out, note_condition, undo_last

__all__ = [
    "agree",
    "choose_taker",
    "clear_tray",
    "end_feed",
    "end_pause",
    "finish",
    "lay_ready",
    "leave_out",
    "make_feed",
    "note_condition",
    "pause_reminders",
    "remind_of_due_keys",
    "renew_feed",
    "scan",
    "set_due_rules",
    "take_found_key",
    "undo_last",
]
