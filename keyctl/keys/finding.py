"""A lost copy turned up again: whoever follows its loss says so here.

Keys lie below those apps; each listener is called as ``f(actor, copies, note)``, in the transaction
that takes it in.
"""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy

FindListener = Callable[[User, Sequence[KeyCopy], str], None]
_listeners: list[FindListener] = []


def add_listener(listener: FindListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, copies: Sequence[KeyCopy], note: str) -> None:
    for listener in _listeners:
        listener(actor, copies, note)
