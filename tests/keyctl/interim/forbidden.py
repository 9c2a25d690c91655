"""What no mark of a core for a time may be, for the test that asks the database itself."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.interim.models import Interim
from tests.cast import Cast
from tests.keyctl.orders.workshop import set_up


def a_mark(cast: Cast, times: int = 1, **facts: Any) -> None:
    housing, core = set_up(cast).furnished()
    given: dict[str, Any] = {"core": core, "housing": housing, "site": cast.north, "why": "New lift"}
    given |= {"until": timezone.localdate(), "marked_by": cast.locksmith}
    for _ in range(times):
        Interim.objects.create(**{**given, **facts})


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "core_has_one_day_to_leave": lambda cast: a_mark(cast, times=2),
    "interim_core_says_why": lambda cast: a_mark(cast, why=""),
    "interim_core_end_says_how": lambda cast: a_mark(cast, ended_at=timezone.now()),
}
