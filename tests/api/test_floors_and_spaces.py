from keyctl.places.models import Identifier
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_floor, make_space


def test_a_floor_says_where_it_is(api: Api, estate: Estate) -> None:
    floor = estate.door.floor
    assert api.get(f"floors/{floor.pk}/").json() == {
        "id": str(floor.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "building": {"id": str(floor.building.pk), "code": floor.building.code},
        "label": floor.label,
        "level": 0,
        "identifiers": [],
    }


def test_a_space_says_where_it_is_and_what_others_call_it(api: Api, estate: Estate) -> None:
    space, floor = estate.space, estate.door.floor
    Identifier.objects.create(site=estate.site, source="GlobalId", kind="space", value="3x$Q", space=space)
    assert api.get(f"spaces/{space.pk}/").json() == {
        "id": str(space.pk),
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "building": {"id": str(floor.building.pk), "code": floor.building.code},
        "floor": {"id": str(floor.pk), "label": floor.label, "level": 0},
        "number": "1.04",
        "name": "",
        "identifiers": [{"source": "GlobalId", "value": "3x$Q"}],
    }


def test_foreign_floors_and_spaces_are_neither_listed_nor_found(
    api: Api, foreign: Api, estate: Estate, cast: Cast
) -> None:
    make_space(make_floor(cast.south))
    assert api.ids("floors/") == [str(estate.door.floor.pk)]
    assert api.ids("spaces/") == [str(estate.space.pk)]
    problem(foreign.get(f"floors/{estate.door.floor.pk}/"), 404, "not-found")
    problem(foreign.get(f"spaces/{estate.space.pk}/"), 404, "not-found")
