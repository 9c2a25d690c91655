"""Work on lines is told to the apps above, which wait for it: each listener is called in the transaction
that wrote it.

Cut keys: whoever ordered them for somebody (an approved request) takes them. Swaps and doors that were not
reached: whoever deals doors out in waves goes on from them.
"""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import OrderLine

CutListener = Callable[[User, OrderLine, Sequence[KeyCopy]], None]
SwapListener = Callable[[User, OrderLine], None]
UnreachedListener = Callable[[User, OrderLine, str], None]

_listeners: list[CutListener] = []
_of_swaps: list[SwapListener] = []
_of_unreached: list[UnreachedListener] = []


def add_listener(listener: CutListener) -> None:
    _listeners.append(listener)


def add_swap_listener(listener: SwapListener) -> None:
    _of_swaps.append(listener)


def add_unreached_listener(listener: UnreachedListener) -> None:
    _of_unreached.append(listener)


def tell_listeners(actor: User, line: OrderLine, copies: Sequence[KeyCopy]) -> None:
    for listener in _listeners:
        listener(actor, line, copies)


def tell_swapped(actor: User, line: OrderLine) -> None:
    for listener in _of_swaps:
        listener(actor, line)


def tell_unreached(actor: User, line: OrderLine, reason: str) -> None:
    for listener in _of_unreached:
        listener(actor, line, reason)
