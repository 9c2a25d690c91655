"""What the constraints of bitting lists forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.inherited.models import BittingList
from tests.cast import Cast


def a_bitting_list(cast: Cast, **facts: Any) -> None:
    facts = {"code": "OLD", "format_id": "small-a2-7", "keyway": "W", "content": b"sealed"} | facts
    BittingList.objects.create(site=cast.north, name="list.csv", uploaded_by=cast.locksmith, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "bitting_list_is_deleted_when_it_ends": lambda cast: a_bitting_list(cast, state="left"),
    "bitting_list_is_checked_before_it_is_written": lambda cast: a_bitting_list(cast, state="writing"),
    "bitting_list_names_its_system": lambda cast: a_bitting_list(cast, code=""),
}
