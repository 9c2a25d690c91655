"""What the constraints of history forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable

from keyctl.audit.models import Head, Link
from keyctl.audit.services import record
from tests.cast import Cast


def an_entry_numbered_nought(cast: Cast) -> None:
    event = record(actor=cast.locksmith, verb="a.b", sentence="did something")
    Link.objects.create(number=0, event=event, before=bytes(32), hash=bytes(32))


def a_second_head(cast: Cast) -> None:
    Head.objects.create(id=2, number=0, hash=bytes(32))


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "history_counts_from_one": an_entry_numbered_nought,
    "history_has_one_head": a_second_head,
}
