from datetime import datetime

from keyctl.cores.models import Core
from keyctl.lib.tags import grouped
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.cast import Cast


def test_a_core_says_where_it_is(api: Api, estate: Estate) -> None:
    answer = api.get(f"cores/{estate.core.pk}/").json()
    assert answer["place"] == "housing"
    assert answer["where"]["housing"] == str(estate.housing.pk)
    assert answer["where"]["door"]["number"] == "E-1.04"
    assert answer["where"]["words"] == str(estate.housing)


def test_a_core_says_what_it_is_and_nothing_about_its_pins(api: Api, estate: Estate) -> None:
    answer = api.get(f"cores/{estate.spare.pk}/").json()
    pinned_at = answer.pop("pinned_at")
    assert datetime.fromisoformat(pinned_at) == estate.spare.pinned_at
    assert answer == {
        "id": str(estate.spare.pk),
        "tag": estate.spare.tag,
        "site": {"id": str(estate.site.pk), "code": "NORTH"},
        "system": estate.system.code,
        "format": estate.system.format_id,
        "construction": "small-format",
        "keyed_to": [str(symbol) for symbol in estate.spare.keyed_to.all()],
        "place": "bench",
        "where": None,
        "is_disputed": False,
    }


def test_a_core_without_a_system_says_so(api: Api, cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, format_id="small-a2-7", construction="small-format")
    assert api.get(f"cores/{core.pk}/").json()["system"] is None


def test_a_persons_case_does_not_name_the_person(api: Api, estate: Estate, cast: Cast) -> None:
    Core.objects.filter(pk=estate.spare.pk).update(place=Core.Place.CASE, carrier=cast.locksmith)
    response = api.get(f"cores/{estate.spare.pk}/")
    assert response.json()["place"] == "case"
    assert cast.locksmith.display_name.encode() not in response.content


def test_a_core_is_found_by_its_tag_however_it_is_grouped(api: Api, estate: Estate) -> None:
    assert api.ids("cores/", tag=grouped(estate.core.tag).lower()) == [str(estate.core.pk)]


def test_cores_by_system_place_and_door(api: Api, estate: Estate) -> None:
    assert api.ids("cores/", system=estate.system.code, place="bench") == [str(estate.spare.pk)]
    assert api.ids("cores/", door=estate.door.pk) == [str(estate.core.pk)]


def test_a_place_that_does_not_exist_is_refused(api: Api) -> None:
    body = problem(api.get("cores/", place="cellar"), 400, "invalid")
    assert body["errors"][0]["parameter"] == "place"


def test_a_foreign_core_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"cores/{estate.core.pk}/"), 404, "not-found")
    assert foreign.ids("cores/") == []
