from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_housing


def test_a_housing_names_its_door_and_its_core(api: Api, estate: Estate) -> None:
    building = estate.door.building
    assert api.get(f"housings/{estate.housing.pk}/").json() == {
        "id": str(estate.housing.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "door": {
            "id": str(estate.door.pk),
            "number": "E-1.04",
            "building": {"id": str(building.pk), "code": building.code},
        },
        "kind": "mortise",
        "construction": "small-format",
        "label": "Upper",
        "core": {"id": str(estate.core.pk), "tag": estate.core.tag},
    }


def test_an_empty_housing_has_no_core(api: Api, cast: Cast) -> None:
    empty = make_housing(cast.north)
    assert api.get(f"housings/{empty.pk}/").json()["core"] is None


def test_housings_of_one_door(api: Api, estate: Estate) -> None:
    make_housing(estate.site)
    assert api.ids("housings/", door=estate.door.pk) == [str(estate.housing.pk)]


def test_foreign_housings_are_not_listed(api: Api, cast: Cast) -> None:
    make_housing(cast.south)
    assert api.ids("housings/") == []


def test_a_foreign_housing_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"housings/{estate.housing.pk}/"), 404, "not-found")
