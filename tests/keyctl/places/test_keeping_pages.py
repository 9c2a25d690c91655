"""Places changed and removed on pages: what was typed stays where it is refused, and who may not, may not."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.places.models import Building, Door, Floor, Housing, Space
from tests import factories
from tests.cast import Cast


@pytest.fixture
def administrator(client: Client, cast: Cast) -> Client:
    client.force_login(cast.administrator)
    return client


@pytest.fixture
def door(cast: Cast) -> Door:
    door = factories.make_door(cast.north, number="101", name="Store", is_egress=True)
    door.spaces.add(factories.make_space(door.floor, number="1.01"))
    return door


def address(name: str, thing: Any) -> str:
    return reverse(f"places:{name}", args=[thing.pk])


def shown(page: Any, form: str) -> dict[str, Any]:
    """What a form of the page would send as it stands; a tick that is not set sends nothing."""
    filled = {each.name: each.value() for each in page.context[form]}
    return {name: value for name, value in filled.items() if value not in {None, False}}


def test_a_door_page_sent_as_it_stands_changes_nothing(administrator: Client, door: Door) -> None:
    page = administrator.get(address("door", door))
    sent = administrator.post(address("door", door), shown(page, "change_form"))
    assert sent.headers["Location"] == reverse("cores:door", args=[door.pk])
    assert not history_of(door)


def test_a_door_is_changed_with_its_spaces(administrator: Client, cast: Cast, door: Door) -> None:
    other = factories.make_space(door.floor, number="1.02")
    page = administrator.get(address("door", door))
    facts = shown(page, "change_form") | {
        "space_numbers": "1.02, 1.01",
        "fire_rating": "60 min",
        "note": "Ring.",
    }
    administrator.post(address("door", door), facts)
    door.refresh_from_db()
    assert (door.fire_rating, door.is_fire_rated, door.note) == ("60 min", False, "Ring.")
    assert set(door.spaces.all()) == {other, Space.objects.get(number="1.01")}
    assert history_of(door)[0].actor_name == cast.administrator.display_name


def test_a_space_that_is_not_there_is_told_and_what_was_typed_stays(
    administrator: Client, door: Door
) -> None:
    page = administrator.get(address("door", door))
    facts = shown(page, "change_form") | {"space_numbers": "1.01, 9.99", "name": "Library"}
    answer = administrator.post(address("door", door), facts)
    assert answer.status_code == 422
    assert b"has no space 9.99" in answer.content
    assert b"Library" in answer.content
    assert Door.objects.get(pk=door.pk).name == "Store"


def test_a_space_of_the_doors_own_floor_comes_before_one_of_another(
    administrator: Client, door: Door
) -> None:
    own = factories.make_space(door.floor, number="7")
    factories.make_space(Floor.objects.create(building=door.building, label="Up", level=1), number="7")
    page = administrator.get(address("door", door))
    administrator.post(address("door", door), shown(page, "change_form") | {"space_numbers": "7"})
    assert list(door.spaces.all()) == [own]


def test_a_door_does_not_go_to_another_site(administrator: Client, cast: Cast, door: Door) -> None:
    page = administrator.get(address("door", door))
    facts = shown(page, "change_form") | {"floor": factories.make_floor(cast.south).pk}
    assert administrator.post(address("door", door), facts).status_code == 422


def test_housings_come_change_and_go(administrator: Client, door: Door) -> None:
    facts = {"kind": "padlock", "construction": "small-format", "label": "Hasp"}
    administrator.post(address("new-housing", door), facts)
    housing = Housing.objects.get(door=door)
    administrator.post(address("housing", housing), facts | {"label": "Chain"})
    assert Housing.objects.get(pk=housing.pk).label == "Chain"
    assert administrator.post(address("new-housing", door), facts | {"label": "Chain"}).status_code == 422
    administrator.post(address("remove-housing", housing))
    assert not Housing.objects.exists()


def test_floors_spaces_and_buildings_are_changed(administrator: Client, door: Door) -> None:
    space = door.spaces.get()
    administrator.post(address("space", space), {"number": "1.05", "name": "Hall"})
    administrator.post(address("floor", door.floor), {"label": "Attic", "level": 4})
    administrator.post(address("change-building", door.building), {"code": "NEW", "name": "Annex"})
    administrator.post(address("new-space", door.floor), {"number": "1.06", "name": ""})
    assert set(Space.objects.values_list("number", flat=True)) == {"1.05", "1.06"}
    assert Floor.objects.filter(label="Attic", level=4).exists()
    assert Building.objects.filter(code="NEW", name="Annex").exists()


def test_what_holds_something_stays_and_the_page_says_why(administrator: Client, door: Door) -> None:
    factories.make_housing(door=door)
    for name, thing, words in (
        ("remove-building", door.building, "1 floor"),
        ("remove-floor", door.floor, "1 space and 1 door"),
        ("remove-space", door.spaces.get(), "1 door"),
        ("remove-door", door, "1 housing"),
    ):
        answer = administrator.post(address(name, thing))
        assert answer.status_code == 422
        assert f"because of {words}" in answer.content.decode()


def test_what_holds_nothing_goes(administrator: Client, door: Door) -> None:
    space, floor, building = door.spaces.get(), door.floor, door.building
    for name, thing in (("door", door), ("space", space), ("floor", floor), ("building", building)):
        assert administrator.post(address(f"remove-{name}", thing)).status_code == 302
    assert not Building.objects.exists()


def test_a_locksmith_keeps_doors_and_no_more(client: Client, cast: Cast, door: Door) -> None:
    client.force_login(cast.locksmith)
    housing = factories.make_housing(door=door)
    pages = {"door": door, "housing": housing, "floor": door.floor, "space": door.spaces.get()}
    statuses = {name: client.get(address(name, thing)).status_code for name, thing in pages.items()}
    assert statuses == {"door": 200, "housing": 200, "floor": 403, "space": 403}


def test_a_strangers_places_are_not_found(client: Client, cast: Cast, door: Door) -> None:
    client.force_login(cast.stranger)
    for name, thing in (("door", door), ("floor", door.floor), ("space", door.spaces.get())):
        assert client.get(address(name, thing)).status_code == 404


def test_a_page_costs_as_many_queries_with_thirty_doors(
    administrator: Client, cast: Cast, door: Door, django_assert_max_num_queries: Any
) -> None:
    for _ in range(30):
        factories.make_door(floor=door.floor).spaces.add(factories.make_space(door.floor))
    for name, thing in (("floor", door.floor), ("door", door)):
        with django_assert_max_num_queries(20):
            assert administrator.get(address(name, thing)).status_code == 200
