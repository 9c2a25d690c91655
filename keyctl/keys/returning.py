"""Holders no longer have keys that they had: whoever waits for the keys of somebody who leaves says so here.

Keys lie below those apps; each listener is called as ``f(actor, holders)``, in the transaction in which keys
of theirs came back, passed to somebody else or were reported lost.
"""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import Holder

ReturnListener = Callable[[User, Sequence[Holder]], None]
_listeners: list[ReturnListener] = []


def add_listener(listener: ReturnListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, holders: Sequence[Holder]) -> None:
    if not holders:
        return
    for listener in _listeners:
        listener(actor, holders)
