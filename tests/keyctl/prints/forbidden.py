"""What the constraints of prints forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.prints.models import Export
from tests import factories
from tests.cast import Cast


def an_export(cast: Cast, times: int = 1, **facts: Any) -> None:
    row = {"reason": "Deposit", "kind": "bitting-list", "holds_bittings": True, "form": "pdf"} | facts
    row.setdefault("system", factories.make_system(cast.north, actor=cast.administrator))
    for _ in range(times):
        Export.objects.create(site=cast.north, actor=cast.officer, **row)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "export_number_is_unique": lambda cast: an_export(cast, times=2, number="BCDF"),
    "export_has_a_reason": lambda cast: an_export(cast, reason=""),
    "export_that_is_made_says_when_and_what": lambda cast: an_export(cast, rows=3),
    "export_is_about_a_system_or_a_place": lambda cast: an_export(cast, system=None),
    "export_says_whether_it_holds_bittings": lambda cast: an_export(cast, holds_bittings=False),
}
