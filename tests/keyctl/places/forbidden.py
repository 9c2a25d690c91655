"""What the constraints of places forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.places.models import Building, BuildingManager, Floor, Identifier, Membership, Site, Space
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


def two_sites_of_one_code(cast: Cast) -> None:
    Site.objects.create(code=cast.north.code, name="Another")


def two_buildings_of_one_code(cast: Cast) -> None:
    for _ in range(2):
        Building.objects.create(site=cast.north, code="H1", name="House")


def two_floors_of_one_label(cast: Cast) -> None:
    building = factories.make_floor(cast.north).building
    for _ in range(2):
        Floor.objects.create(building=building, label="Ground", level=0)


def two_doors_of_one_number(cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    for _ in range(2):
        factories.make_door(floor=floor, number="001")


def two_housings_that_look_alike(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    for _ in range(2):
        factories.make_housing(door=door)


def a_membership(cast: Cast, role: str) -> None:
    Membership.objects.create(user=cast.locksmith, site=cast.north, role=role)


def one_manager_named_twice(cast: Cast) -> None:
    building = factories.make_floor(cast.north).building
    for _ in range(2):
        BuildingManager.objects.create(building=building, user=cast.manager)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "site_code_is_unique": two_sites_of_one_code,
    "building_code_is_unique_in_its_site": two_buildings_of_one_code,
    "floor_label_is_unique_in_its_building": two_floors_of_one_label,
    "door_number_is_unique_on_its_floor": two_doors_of_one_number,
    "door_class_is_known": lambda cast: factories.make_door(cast.north, door_class="secret"),
    "housing_is_told_apart_on_its_door": two_housings_that_look_alike,
    "membership_is_granted_once": lambda cast: a_membership(cast, "locksmith"),
    "membership_role_is_known": lambda cast: a_membership(cast, "janitor"),
    "building_manager_is_named_once": one_manager_named_twice,
    "space_number_is_unique_on_its_floor": lambda cast: a_space(cast, times=2),
    "space_has_a_number": lambda cast: a_space(cast, number=""),
    "identifier_names_one_place_of_its_site": lambda cast: an_identifier(cast, times=2),
    "identifier_says_what_and_whose": lambda cast: an_identifier(cast, value=""),
    "identifier_is_of_one_place": an_identifier_of_a_door_and_its_floor,
}
