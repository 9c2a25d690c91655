"""The one gate before a bitting is shown to a person, and how others let somebody through it."""

from keyctl.reveals.services.asking import ask_for_more, ask_to_see, withdraw_permission
from keyctl.reveals.services.deciding import decline, grant
from keyctl.reveals.services.limiting import set_limits
from keyctl.reveals.services.revealing import reveal, reveal_one

__all__ = [
    "ask_for_more",
    "ask_to_see",
    "decline",
    "grant",
    "reveal",
    "reveal_one",
    "set_limits",
    "withdraw_permission",
]
