"""What the register of tables must not hold."""

from collections.abc import Callable
from typing import Any

from keyctl.exports.models import TakenTable
from tests.cast import Cast


def taken(cast: Cast, **facts: Any) -> None:
    row = {"table": "doors", "form": "csv", "tells_of_people": False, "actor": cast.auditor}
    TakenTable.objects.create(**row, **facts)


def twice(cast: Cast) -> None:
    taken(cast, number="1234")
    taken(cast, number="1234")


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "taken_table_number_is_unique": twice,
    "taken_table_that_is_made_says_when_and_what": lambda cast: taken(cast, rows=3),
}
