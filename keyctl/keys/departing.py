"""A holder no longer receives keys: whoever calls back what they hold says so here.

Keys lie below those apps; each listener is called as ``f(actor, holder)``, in the transaction that says so.
"""

from collections.abc import Callable

from keyctl.accounts.models import User
from keyctl.keys.models import Holder

DepartureListener = Callable[[User, Holder], None]
_listeners: list[DepartureListener] = []


def add_listener(listener: DepartureListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, holder: Holder) -> None:
    for listener in _listeners:
        listener(actor, holder)
