"""What the constraints of places forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.places.models import Identifier, Space
from tests import factories
from tests.cast import Cast


def a_space(cast: Cast, times: int = 1, number: str = "1A03") -> None:
    floor = factories.make_floor(cast.north)
    for _ in range(times):
        Space.objects.create(floor=floor, number=number)


def an_identifier(cast: Cast, times: int = 1, **facts: Any) -> None:
    row = {"source": "GlobalId", "kind": "door", "value": "1byTDaqS91rBnWJlv$nmA0"} | facts
    for _ in range(times):
        Identifier.objects.create(site=cast.north, **{"door": factories.make_door(cast.north)} | row)


def an_identifier_of_a_door_and_its_floor(cast: Cast) -> None:
    an_identifier(cast, floor=factories.make_floor(cast.north))


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "space_number_is_unique_on_its_floor": lambda cast: a_space(cast, times=2),
    "space_has_a_number": lambda cast: a_space(cast, number=""),
    "identifier_names_one_place_of_its_site": lambda cast: an_identifier(cast, times=2),
    "identifier_says_what_and_whose": lambda cast: an_identifier(cast, value=""),
    "identifier_is_of_one_place": an_identifier_of_a_door_and_its_floor,
}
