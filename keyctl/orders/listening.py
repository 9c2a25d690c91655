"""Copies came from the machine: whoever ordered them for somebody (an approved request) takes them here.

Orders lie below those apps; each listener is called as ``f(actor, line, copies)``, in the transaction that
finishes the line.
"""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import OrderLine

CutListener = Callable[[User, OrderLine, Sequence[KeyCopy]], None]
_listeners: list[CutListener] = []


def add_listener(listener: CutListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, line: OrderLine, copies: Sequence[KeyCopy]) -> None:
    for listener in _listeners:
        listener(actor, line, copies)
