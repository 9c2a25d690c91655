from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_floor


def test_a_building_names_its_site(api: Api, estate: Estate) -> None:
    building = estate.door.building
    assert api.get(f"buildings/{building.pk}/").json() == {
        "id": str(building.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "code": building.code,
        "name": building.name,
        "identifiers": [],
    }


def test_foreign_buildings_are_not_listed(api: Api, estate: Estate, cast: Cast) -> None:
    make_floor(cast.south)
    assert api.ids("buildings/") == [str(estate.door.building.pk)]


def test_a_foreign_building_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"buildings/{estate.door.building.pk}/"), 404, "not-found")


def test_the_filter_by_a_foreign_site_finds_nothing(api: Api, cast: Cast) -> None:
    make_floor(cast.south)
    assert api.ids("buildings/", site=cast.south.pk) == []
