import pytest

from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_door


def test_a_door_says_where_and_what_it_is(api: Api, estate: Estate) -> None:
    door = estate.door
    assert api.get(f"doors/{door.pk}/").json() == {
        "id": str(door.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "building": {"id": str(door.building.pk), "code": door.building.code},
        "floor": {"id": str(door.floor.pk), "label": door.floor.label, "level": 0},
        "spaces": [{"id": str(estate.space.pk), "number": "1.04"}],
        "number": "E-1.04",
        "name": "Plant room",
        "door_class": "ordinary",
        "is_egress": True,
        "is_fire_rated": False,
        "fire_rating": "",
        "hardware_set": "",
        "serial_number": "",
        "asset_tag": "",
        "bar_code": "",
        "tag": door.tag,
        "identifiers": [],
    }


def test_foreign_doors_are_not_listed(api: Api, estate: Estate, cast: Cast) -> None:
    make_door(cast.south)
    assert api.ids("doors/") == [str(estate.door.pk)]


def test_a_foreign_door_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"doors/{estate.door.pk}/"), 404, "not-found")


@pytest.mark.parametrize("words", ["E-1", "e-1.0", "plant", "ROOM"])
def test_words_find_a_door_by_number_or_name_in_any_case(api: Api, estate: Estate, words: str) -> None:
    make_door(estate.site, number="W-9", name="Store")
    assert api.ids("doors/", q=words) == [str(estate.door.pk)]


def test_the_number_must_fit_exactly(api: Api, estate: Estate) -> None:
    assert api.ids("doors/", number="E-1.04") == [str(estate.door.pk)]
    assert api.ids("doors/", number="E-1") == []


def test_doors_of_one_building(api: Api, estate: Estate) -> None:
    make_door(estate.site)
    assert api.ids("doors/", building=estate.door.building.pk) == [str(estate.door.pk)]


def test_a_mistyped_filter_is_refused_instead_of_ignored(api: Api, estate: Estate) -> None:
    body = problem(api.get("doors/", bilding=estate.door.building.pk), 400, "invalid")
    assert [error["parameter"] for error in body["errors"]] == ["bilding"]


def test_a_filter_of_the_wrong_form_is_told_by_its_name(api: Api) -> None:
    body = problem(api.get("doors/", site="NORTH"), 400, "invalid")
    assert body["errors"][0]["parameter"] == "site"
