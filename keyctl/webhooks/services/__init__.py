"""What people do with webhooks; `writing` and `sending` are the worker's."""

from keyctl.webhooks.services.acting import replay, send_test
from keyctl.webhooks.services.keeping import (
    allow_host,
    forget_host,
    make_endpoint,
    rotate_secret,
    turn_off,
    turn_on,
)

__all__ = [
    "allow_host",
    "forget_host",
    "make_endpoint",
    "replay",
    "rotate_secret",
    "send_test",
    "turn_off",
    "turn_on",
]
