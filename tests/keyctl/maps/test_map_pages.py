from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.cores.models import Core
from keyctl.maps.cells import ACROSS
from keyctl.maps.questions import CORES
from keyctl.maps.selectors.places import MappedDoor, grouped
from keyctl.maps.views.estate import CELLS_ON_A_PAGE
from keyctl.places.models import Door, Floor, Housing
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import allowed, count_queries
from tests.keyctl.maps.drawn import links, texts, the_map

EVERYBODY = ("locksmith", "desk", "manager", "officer", "auditor", "administrator")
CORE_READERS = ("locksmith", "manager", "officer", "auditor", "administrator")


@pytest.fixture
def floor(cast: Cast) -> Floor:
    return factories.make_floor(cast.north)


def fill(floor: Floor, doors: int, first: int = 0) -> list[Door]:
    """Doors with a housing each, every second with a core without pins."""
    numbers = range(first, first + doors)
    made = Door.objects.bulk_create(Door(floor=floor, number=f"{nth:03}") for nth in numbers)
    housings = Housing.objects.bulk_create(
        Housing(door=door, kind="mortise", construction="small-format") for door in made
    )
    about = {"site": floor.building.site, "format_id": "small-a2-7", "construction": "small-format"}
    Core.objects.bulk_create(Core(**about, place="housing", housing=each) for each in housings[::2])
    return made


def asked(client: Client, name: str, pk: Any, **query: Any) -> Any:
    return client.get(reverse(f"maps:{name}", args=[pk]), query)


@pytest.mark.parametrize(
    ("question", "people"),
    [
        ("cores", CORE_READERS),
        ("work", CORE_READERS),
        ("losses", EVERYBODY),
        ("exposure", ("locksmith", "officer", "auditor")),
        ("keys", ("locksmith", "desk", "officer", "auditor", "administrator")),
    ],
)
def test_a_question_is_open_to_who_reads_its_lists(
    cast: Cast, question: str, people: tuple[str, ...]
) -> None:
    found = {}
    for person, user in cast.everybody.items():
        client = Client()
        client.force_login(user)
        found[person] = asked(client, "site", cast.north.pk, ask=question).status_code
    assert found == allowed(*people)


def test_an_unknown_question_is_refused(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    assert asked(client, "site", cast.north.pk, ask="pins").status_code == 403


def test_only_questions_of_ones_own_are_offered(client: Client, cast: Cast) -> None:
    client.force_login(cast.desk)
    page = asked(client, "site", cast.north.pk).content.decode()
    assert "ask=losses" in page
    assert "ask=exposure" not in page


def test_a_site_shows_floors_as_bars_that_lead_to_their_doors(
    client: Client, cast: Cast, floor: Floor
) -> None:
    fill(floor, 30)
    client.force_login(cast.locksmith)
    drawn = the_map(asked(client, "site", cast.north.pk))
    assert links(drawn) == [
        f"/maps/buildings/{floor.building_id}/?ask=cores",
        f"/maps/floors/{floor.pk}/?ask=cores",
    ]
    assert {"N 15", "U 15", "30"} <= set(texts(drawn))


def test_floors_stand_as_they_do_in_the_building(client: Client, cast: Cast) -> None:
    building = factories.make_floor(cast.north).building
    for level in (2, -1, 1):
        fill(Floor.objects.create(building=building, label=f"At {level}", level=level), 40)
    client.force_login(cast.locksmith)
    answer = asked(client, "building", building.pk)
    named = [each for each in texts(the_map(answer)) if each.startswith("At ")]
    assert named == ["At 2", "At 1", "At -1"]
    assert [str(floor) for _, floor, _, doors in answer.context["rows"] if doors] == named[::-1]


def test_a_small_building_shows_each_door_as_a_link(client: Client, cast: Cast, floor: Floor) -> None:
    doors = fill(floor, CELLS_ON_A_PAGE)
    client.force_login(cast.locksmith)
    drawn = the_map(asked(client, "building", floor.building_id))
    assert links(drawn) == [f"/estate/doors/{door.pk}/" for door in doors]


def test_a_larger_building_shows_bars_and_its_floor_pages_of_cells(
    client: Client, cast: Cast, floor: Floor
) -> None:
    doors = fill(floor, CELLS_ON_A_PAGE + 3)
    client.force_login(cast.locksmith)
    assert links(the_map(asked(client, "building", floor.building_id))) == [
        f"/maps/floors/{floor.pk}/?ask=cores"
    ]
    second = links(the_map(asked(client, "floor", floor.pk, page=2)))
    assert second == [f"/estate/doors/{door.pk}/" for door in doors[CELLS_ON_A_PAGE:]]


def test_cautions_are_marked_on_the_cell_and_in_the_table(client: Client, cast: Cast, floor: Floor) -> None:
    fill(floor, 2)
    Door.objects.filter(number="001").update(is_egress=True, is_fire_rated=True, name="Hall <1>")
    client.force_login(cast.locksmith)
    answer = asked(client, "floor", floor.pk)
    assert {"E", "F"} <= set(texts(the_map(answer)))
    assert "001, Hall &lt;1&gt;: Nothing in a housing, egress, fire-rated" in answer.content.decode()
    assert "Egress Fire-rated" in answer.content.decode()


def test_cells_stand_side_by_side_and_never_over_another(client: Client, cast: Cast, floor: Floor) -> None:
    fill(floor, 3 * ACROSS + 1)
    client.force_login(cast.locksmith)
    lines = asked(client, "floor", floor.pk).context["cells"].lines
    places = [(cell.x, cell.y) for line in lines for cell in line.cells]
    for a, (x, y) in enumerate(places):
        assert all(abs(x - u) >= 48 or abs(y - v) >= 48 for u, v in places[:a])


def test_bars_keep_within_the_picture_and_by_their_share(client: Client, cast: Cast, floor: Floor) -> None:
    fill(floor, 200)
    fill(Floor.objects.create(building=floor.building, label="Small", level=3), 50)
    client.force_login(cast.locksmith)
    bars = asked(client, "building", floor.building_id).context["bars"]
    upper, lower = bars.blocks[0].rows
    widths = [sum(piece.width for piece in row.pieces) for row in (upper, lower)]
    assert widths[1] == 4 * widths[0]
    assert lower.pieces[-1].x + lower.pieces[-1].width <= bars.right - 40


def test_doors_of_a_space_stand_together(cast: Cast, floor: Floor) -> None:
    doors = fill(floor, 6)
    corridor = factories.make_space(floor, number="000", name="Corridor")
    ward = factories.make_space(floor, number="10", name="Ward")
    corridor.doors.set(doors)
    ward.doors.set([doors[1], doors[4]])
    factories.make_space(floor, number="11").doors.set([doors[0]])
    state = CORES.states[0]
    shown = [MappedDoor(d.pk, floor.pk, d.number, "", False, False, state) for d in doors]
    assert [(group.words, [d.number for d in group.doors]) for group in grouped(shown)] == [
        ("", ["000", "002", "003", "005"]),
        ("10 Ward", ["001", "004"]),
    ]


def test_an_empty_site_says_what_will_be_drawn(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    assert "Nothing to draw yet" in asked(client, "site", cast.north.pk).content.decode()


def pages(cast: Cast, floor: Floor) -> Iterator[str]:
    for question in ("cores", "work", "losses", "exposure", "keys"):
        yield f"{reverse('maps:site', args=[cast.north.pk])}?ask={question}"
        yield f"{reverse('maps:building', args=[floor.building_id])}?ask={question}"
        yield f"{reverse('maps:floor', args=[floor.pk])}?ask={question}"


def test_the_queries_do_not_grow_with_the_estate(client: Client, cast: Cast, floor: Floor) -> None:
    fill(floor, 2)
    client.force_login(cast.officer)
    asked(client, "site", cast.north.pk)  # what is read once a process
    counted = {page: count_queries(client, page) for page in pages(cast, floor)}
    assert max(counted.values()) < 20
    fill(floor, 60, first=10)
    for _ in range(4):
        fill(factories.make_floor(cast.north), 20)
    assert {page: count_queries(client, page) for page in counted} == counted
