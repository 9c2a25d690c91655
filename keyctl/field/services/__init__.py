"""What tablets tell is taken; tablets are kept; what contradicts is settled."""

from keyctl.field.services.batches import MOST_EVENTS, Answer, take_batch
from keyctl.field.services.devices import (
    Registered,
    device_of,
    note_user,
    register_device,
    rename_device,
    withdraw_device,
)
from keyctl.field.services.quarantine import set_aside, take_in
from keyctl.field.services.settling import NOWHERE_KNOWN, settle_case

__all__ = [
    "MOST_EVENTS",
    "NOWHERE_KNOWN",
    "Answer",
    "Registered",
    "device_of",
    "note_user",
    "register_device",
    "rename_device",
    "set_aside",
    "settle_case",
    "take_batch",
    "take_in",
    "withdraw_device",
]
