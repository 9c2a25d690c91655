"""Long work is put in a queue by an app above; it says here how."""

from collections.abc import Callable

from keyctl.accounts.models import User
from keyctl.listing.models import BulkAct

Starter = Callable[[User, BulkAct], object]
_starters: list[Starter] = []


def set_starter(starter: Starter) -> None:
    _starters[:] = [starter]


def start(actor: User, bulk: BulkAct) -> None:
    """``carry_on`` will be called for it by whoever works the queue."""
    _starters[0](actor, bulk)
