"""A cabinet has another custodian: whoever has it counted says so here.

Keys lie below those apps; each listener is called as ``f(actor, cabinet, before)``, in the
transaction of the change; the cabinet names the new custodian, ``before`` is who it was.
"""

from collections.abc import Callable

from keyctl.accounts.models import User
from keyctl.keys.models import Cabinet

CustodianListener = Callable[[User, Cabinet, User | None], None]
_listeners: list[CustodianListener] = []


def add_listener(listener: CustodianListener) -> None:
    _listeners.append(listener)


def tell_listeners(actor: User, cabinet: Cabinet, before: User | None) -> None:
    for listener in _listeners:
        listener(actor, cabinet, before)
