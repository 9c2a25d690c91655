"""What the constraints of lock charts forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.charts.models import LockChart
from tests.cast import Cast


def a_lock_chart(cast: Cast, **facts: Any) -> None:
    facts = {"format_id": "fixed-6", "keyway": "W", "kept": b"sealed", "name": "House"} | facts
    LockChart.objects.create(site=cast.north, created_by=cast.locksmith, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "lock_chart_holds_an_answer_once_solved": lambda cast: a_lock_chart(cast, state="solved"),
    "lock_chart_names_the_system_made_of_it": lambda cast: a_lock_chart(cast, state="used", answer=b"sealed"),
}
