"""What a list wrote is told to whoever keeps account of it, in the transaction that wrote it."""

from collections.abc import Callable, Sequence

from django.db.models import Model

from keyctl.accounts.models import User
from keyctl.inherited.models import BittingList

# The list, in whose name, and the rows in the order of writing: what others stand on comes first.
Listener = Callable[[BittingList, User, Sequence[Model]], None]

_listeners: list[Listener] = []


def add_listener(listener: Listener) -> None:
    _listeners.append(listener)


def tell_listeners(listed: BittingList, actor: User, made: Sequence[Model]) -> None:
    for listener in _listeners:
        listener(listed, actor, made)
