"""A copy was reported lost: whoever must act on it (a lost key's case) says so here.

Keys lie below those apps; each listener is called as ``f(actor, copies, note)``, in the transaction
of the report.
"""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy

LossListener = Callable[[User, Sequence[KeyCopy], str], None]
_listeners: list[LossListener] = []


def add_listener(listener: LossListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, copies: Sequence[KeyCopy], note: str) -> None:
    for listener in _listeners:
        listener(actor, copies, note)
