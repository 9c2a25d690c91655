from keyctl.leavers.services.closing import (
    cancel_announcement,
    close_case,
    close_where_back,
    end_as_staying,
    on_returned,
)
from keyctl.leavers.services.opening import (
    announce_leaving,
    on_departing,
    open_case,
    rules_of,
    tell_leaving,
)
from keyctl.leavers.services.reminding import (
    end_pause,
    look_after,
    pause_reminders,
    refuse_pause,
    remind_now,
    set_rules,
)

__all__ = [
    "announce_leaving",
    "cancel_announcement",
    "close_case",
    "close_where_back",
    "end_as_staying",
    "end_pause",
    "look_after",
    "on_departing",
    "on_returned",
    "open_case",
    "pause_reminders",
    "refuse_pause",
    "remind_now",
    "rules_of",
    "set_rules",
    "tell_leaving",
]
