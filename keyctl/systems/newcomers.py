"""Telling whoever keeps something by the keys that there are new ones.

Systems lie below cores: stored turns of cores that are pinned already have to be worked out for the new keys
too. Every service that adds key symbols calls `tell` inside its own transaction.
"""

from collections.abc import Callable, Sequence

from keyctl.systems.models import KeySymbol

Listener = Callable[[Sequence[KeySymbol]], None]
_listeners: list[Listener] = []


def add_listener(listener: Listener) -> None:
    """Registered once, in an `AppConfig.ready()`."""
    _listeners.append(listener)


def tell(symbols: Sequence[KeySymbol]) -> None:
    """The symbols are saved already; a listener that refuses undoes the whole act."""
    if symbols:
        for listener in _listeners:
            listener(symbols)
