"""Places made, changed and removed by a program: the services, the rules and the history of the pages."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from keyctl.api.models import Scope
from keyctl.audit.models import Event
from keyctl.places.models import Building, Door, Floor, Housing, Site, Space
from tests.api.client import Api, make_api, problem
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_door, make_floor, make_housing, make_space

Body = dict[str, Any]


@dataclass(frozen=True)
class Plot:
    """A door with an empty housing, without cores and keys: all that most of these tests need."""

    site: Site
    door: Door
    space: Space
    housing: Housing


@pytest.fixture
def plot(cast: Cast) -> Plot:
    door = make_door(cast.north, number="E-1.04", name="Plant room", is_egress=True)
    space = make_space(door.floor, number="1.04")
    door.spaces.add(space)
    return Plot(cast.north, door, space, make_housing(door=door, label="Upper"))


def bodies(plot: Plot) -> dict[str, Body]:
    """What makes a new thing of each kind in this plot."""
    floor = str(plot.door.floor.pk)
    return {
        "buildings": {"site": str(plot.site.pk), "code": "NB", "name": "New building"},
        "floors": {"building": str(plot.door.building.pk), "label": "Roof", "level": 7},
        "spaces": {"floor": floor, "number": "7.01", "name": "Terrace"},
        "doors": {"floor": floor, "number": "7-01", "spaces": [str(plot.space.pk)], "is_egress": True},
        "housings": {"door": str(plot.door.pk), "kind": "padlock", "construction": "small-format"},
    }


# A change of each kind, by what it is sent and as it is read then.
CHANGES: dict[str, Body] = {
    "buildings": {"name": "Old building"},
    "floors": {"label": "Attic", "level": 6},
    "spaces": {"name": "Balcony"},
    "doors": {"number": "7-02", "door_class": "critical", "is_fire_rated": True, "hardware_set": "HW-3"},
    "housings": {"label": "Hasp"},
}
KINDS = sorted(CHANGES)


def tag(api: Api, path: str) -> str:
    found: str = api.get(path)["ETag"]
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_thing_is_made_read_changed_and_removed(api: Api, plot: Plot, kind: str) -> None:
    made = api.post(f"{kind}/", bodies(plot)[kind])
    assert made.status_code == 201, made.content
    path = f"{kind}/{made.json()['id']}/"
    assert made["Location"].endswith(f"/api/v1/{path}")
    assert api.get(path).json() == made.json()
    changed = api.patch(path, CHANGES[kind], match=made["ETag"])
    assert changed.json() == api.get(path).json() == made.json() | CHANGES[kind]
    assert api.delete(path, match=changed["ETag"]).status_code == 204
    problem(api.get(path), 404, "not-found")


@pytest.mark.parametrize("kind", KINDS)
def test_history_names_the_program_and_keeps_what_was_there(api: Api, plot: Plot, kind: str) -> None:
    made = api.post(f"{kind}/", bodies(plot)[kind]).json()
    path = f"{kind}/{made['id']}/"
    changed = api.patch(path, CHANGES[kind], match=tag(api, path))
    api.delete(path, match=changed["ETag"])
    events = Event.objects.filter(subjects__subject_id=made["id"]).order_by("at")
    word = kind.removesuffix("s")
    assert [event.verb for event in events] == [f"{word}.added", f"{word}.changed", f"{word}.removed"]
    assert {event.actor_name for event in events} == {"Invented integration"}
    assert events[1].detail == {
        "before": {name: made[name] for name in CHANGES[kind]},
        "after": CHANGES[kind],
    }


def test_sites_are_made_and_named_by_administrators_alone(api: Api, plot: Plot) -> None:
    """The cautious way: no program makes, names or removes a site, whatever its scopes."""
    problem(api.post("sites/", {"code": "EAST", "name": "East"}), 405, "method-not-allowed")
    path = f"sites/{plot.site.pk}/"
    problem(api.patch(path, {"name": "South"}, match="*"), 405, "method-not-allowed")
    problem(api.delete(path, match="*"), 405, "method-not-allowed")


@pytest.mark.parametrize("kind", KINDS)
def test_writing_needs_its_scope(cast: Cast, plot: Plot, kind: str) -> None:
    reader = make_api(cast.administrator, cast.north, scopes=[Scope.ESTATE_READ, Scope.ORDERS_WRITE])
    path = f"{kind}/{existing(plot)[kind]}/"
    problem(reader.post(f"{kind}/", bodies(plot)[kind]), 403, "forbidden")
    problem(reader.patch(path, CHANGES[kind], match="*"), 403, "forbidden")
    problem(reader.delete(path, match="*"), 403, "forbidden")


def existing(plot: Plot) -> dict[str, object]:
    return {
        "buildings": plot.door.building.pk,
        "floors": plot.door.floor.pk,
        "spaces": plot.space.pk,
        "doors": plot.door.pk,
        "housings": plot.housing.pk,
    }


@pytest.mark.parametrize("kind", KINDS)
def test_what_belongs_to_another_site_is_neither_changed_nor_removed(
    foreign: Api, plot: Plot, kind: str
) -> None:
    path = f"{kind}/{existing(plot)[kind]}/"
    problem(foreign.patch(path, CHANGES[kind], match="*"), 404, "not-found")
    problem(foreign.delete(path, match="*"), 404, "not-found")


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_made_at_another_site(foreign: Api, plot: Plot, kind: str) -> None:
    """What another site has and what nobody has look the same."""
    body = bodies(plot)[kind]
    below = next(iter(body))
    refused = problem(foreign.post(f"{kind}/", body), 400, "invalid")
    assert [error["pointer"] for error in refused["errors"]] == [f"#/{below}"]
    unknown = problem(foreign.post(f"{kind}/", body | {below: str(uuid4())}), 400, "invalid")
    assert unknown["errors"][0]["pointer"] == f"#/{below}"


@pytest.mark.parametrize("kind", KINDS)
def test_a_double_is_refused_in_the_words_of_the_page(api: Api, plot: Plot, kind: str) -> None:
    assert api.post(f"{kind}/", bodies(plot)[kind]).status_code == 201
    refused = problem(api.post(f"{kind}/", bodies(plot)[kind]), 422, "refused")
    assert "already" in refused["detail"]


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("buildings", "1 floor"),
        ("floors", "1 space and 1 door"),
        ("spaces", "1 door"),
        ("doors", "1 housing"),
    ],
)
def test_what_something_stands_on_stays(api: Api, plot: Plot, kind: str, words: str) -> None:
    path = f"{kind}/{existing(plot)[kind]}/"
    assert words in problem(api.delete(path, match=tag(api, path)), 422, "refused")["detail"]


def test_a_housing_in_an_order_stays(api: Api, estate: Estate) -> None:
    path = f"housings/{estate.housing.pk}/"
    refused = problem(api.delete(path, match=tag(api, path)), 422, "refused")["detail"]
    assert "1 core" in refused
    assert "1 order line" in refused


def test_what_a_door_is_to_people_stands_in_history_with_what_it_was(api: Api, plot: Plot) -> None:
    path = f"doors/{plot.door.pk}/"
    api.patch(path, {"is_fire_rated": True}, match=tag(api, path))
    event = Event.objects.get(verb="door.changed")
    assert event.detail["before"] == {"is_fire_rated": False}
    assert event.detail["after"] == {"is_fire_rated": True}
    assert "fire-rated (now yes)" in event.sentence
    assert event.actor_name == "Invented integration"


def test_no_program_takes_a_caution_away(api: Api, plot: Plot) -> None:
    path = f"doors/{plot.door.pk}/"
    said = api.patch(path, {"is_egress": False, "name": "Store"}, match=tag(api, path))
    assert "leave through a door" in problem(said, 422, "refused")["detail"]
    plot.door.refresh_from_db()
    assert (plot.door.is_egress, plot.door.name) == (True, "Plant room")


def test_a_change_that_changes_nothing_keeps_the_tag_and_tells_nobody(api: Api, plot: Plot) -> None:
    path = f"doors/{plot.door.pk}/"
    before = api.get(path)
    same = {"number": before.json()["number"], "spaces": [each["id"] for each in before.json()["spaces"]]}
    assert api.patch(path, same, match=before["ETag"])["ETag"] == before["ETag"]
    assert not Event.objects.filter(verb="door.changed").exists()


def test_spaces_replace_those_that_the_door_had(api: Api, plot: Plot) -> None:
    other = Space.objects.create(floor=plot.door.floor, number="2")
    path = f"doors/{plot.door.pk}/"
    for wanted in ([other.pk, plot.space.pk], [other.pk], []):
        changed = api.patch(path, {"spaces": [str(pk) for pk in wanted]}, match=tag(api, path)).json()
        assert {each["id"] for each in changed["spaces"]} == {str(pk) for pk in wanted}


def test_a_foreign_space_is_told_by_its_place(api: Api, plot: Plot, cast: Cast) -> None:
    abroad = Space.objects.create(floor=make_floor(cast.south), number="1")
    body = {"spaces": [str(plot.space.pk), str(abroad.pk)]}
    path = f"doors/{plot.door.pk}/"
    refused = problem(api.patch(path, body, match=tag(api, path)), 400, "invalid")
    assert [error["pointer"] for error in refused["errors"]] == ["#/spaces/1"]


def test_a_token_of_both_sites_moves_no_door_from_one_to_the_other(both: Api, plot: Plot, cast: Cast) -> None:
    path, abroad = f"doors/{plot.door.pk}/", make_floor(cast.south)
    refused = problem(both.patch(path, {"floor": str(abroad.pk)}, match=tag(both, path)), 422, "refused")
    assert "another site" in refused["detail"]
    there = make_floor(cast.north)
    moved = both.patch(path, {"floor": str(there.pk)}, match=tag(both, path)).json()
    assert (moved["floor"]["id"], moved["building"]["id"]) == (str(there.pk), str(there.building.pk))


def test_a_token_of_both_sites_reads_and_writes_at_both(both: Api, plot: Plot, cast: Cast) -> None:
    abroad = make_door(cast.south)
    assert set(both.ids("doors/")) == {str(plot.door.pk), str(abroad.pk)}
    assert both.ids("doors/", site=cast.south.pk) == [str(abroad.pk)]
    path = f"doors/{abroad.pk}/"
    assert both.patch(path, {"name": "Library"}, match=tag(both, path)).json()["name"] == "Library"


@pytest.mark.parametrize(
    ("kind", "fact", "value"),
    [
        ("buildings", "code", "THIRTEEN-LONG"),
        ("floors", "level", 40000),
        ("spaces", "number", ""),
        ("doors", "door_class", "odd"),
        ("doors", "name", "right to left \u202e"),
        ("doors", "spaces", ["no id"]),
        ("housings", "construction", "wooden"),
        ("housings", "kind", "gate"),
        ("doors", "tag", "BCDF"),
        ("doors", "note", "what people write among themselves"),
    ],
)
def test_a_fact_of_the_wrong_form_is_told_by_its_place(
    api: Api, plot: Plot, kind: str, fact: str, value: object
) -> None:
    refused = problem(api.post(f"{kind}/", bodies(plot)[kind] | {fact: value}), 400, "invalid")
    assert refused["errors"][0]["pointer"].startswith(f"#/{fact}")
    path = f"{kind}/{existing(plot)[kind]}/"
    refused = problem(api.patch(path, {fact: value}, match=tag(api, path)), 400, "invalid")
    assert refused["errors"][0]["pointer"].startswith(f"#/{fact}")


@pytest.mark.parametrize(
    ("kind", "fact"), [("buildings", "site"), ("floors", "building"), ("housings", "door")]
)
def test_what_a_thing_hangs_on_is_not_changed(api: Api, plot: Plot, kind: str, fact: str) -> None:
    path = f"{kind}/{existing(plot)[kind]}/"
    refused = problem(api.patch(path, {fact: str(uuid4())}, match=tag(api, path)), 400, "invalid")
    assert refused["errors"][0]["pointer"] == f"#/{fact}"


def test_a_program_and_a_page_do_the_same(api: Api, plot: Plot, cast: Cast, client: Any) -> None:
    """One event of the page and one of the program, alike but for who did it."""
    path = f"doors/{plot.door.pk}/"
    api.patch(path, {"number": "E-1.05"}, match=tag(api, path))
    client.force_login(cast.locksmith)
    where = {"floor": plot.door.floor.pk, "number": "E-1.06", "space_numbers": "1.04"}
    facts = where | {"name": "Plant room", "door_class": "ordinary", "is_egress": "on"}
    assert client.post(reverse("places:door", args=[plot.door.pk]), facts).status_code == 302
    first, second = Event.objects.filter(verb="door.changed").order_by("at")
    assert (first.detail["after"], second.detail["after"]) == ({"number": "E-1.05"}, {"number": "E-1.06"})
    assert first.sentence.replace("E-1.04", "") == second.sentence.replace("E-1.05", "")
    assert second.actor_name == cast.locksmith.display_name


Many = Callable[[str, list[Body]], Any]


@pytest.fixture
def many(api: Api) -> Many:
    def send(kind: str, items: list[Body]) -> Any:
        answer = api.post(f"{kind}/bulk/", {"items": items})
        assert answer.status_code == 200, answer.content
        return answer.json()

    return send


def test_many_doors_are_made_at_once_each_told_by_itself(api: Api, plot: Plot, many: Many) -> None:
    floor = str(plot.door.floor.pk)
    items = [{"floor": floor, "number": f"B-{nth}"} for nth in range(4)]
    items[2]["number"] = "B-1"
    items.append({"floor": str(uuid4()), "number": "B-9"})
    told = many("doors", items)
    assert (told["done"], told["refused"]) == (3, 2)
    assert [result["status"] for result in told["results"]] == [201, 201, 422, 201, 400]
    assert told["results"][4]["problem"]["errors"][0]["pointer"] == "#/items/4/floor"
    for result in (told["results"][0], told["results"][3]):
        assert api.follow(result["location"]).json() == result["value"]
    assert set(Door.objects.filter(number__startswith="B-").values_list("number", flat=True)) == {
        "B-0",
        "B-1",
        "B-3",
    }


def test_many_spaces_and_housings_are_made_at_once(plot: Plot, many: Many, cast: Cast) -> None:
    floor, door = str(plot.door.floor.pk), make_door(cast.north)
    spaces = many("spaces", [{"floor": floor, "number": f"{nth}"} for nth in range(3)])
    kinds = ("mortise", "rim", "rim")
    housings = many(
        "housings", [{"door": str(door.pk), "kind": kind, "construction": "ordinary"} for kind in kinds]
    )
    assert (spaces["done"], housings["done"], housings["refused"]) == (3, 2, 1)
    assert Space.objects.count() == 4
    assert Housing.objects.filter(door=door).count() == 2


def test_the_rows_are_where_they_should_be(api: Api, plot: Plot) -> None:
    """Against the database: what was told to be made is there, once, with its facts."""
    for kind, model in (("buildings", Building), ("floors", Floor), ("doors", Door)):
        before = model.objects.count()
        made = api.post(f"{kind}/", bodies(plot)[kind]).json()
        assert model.objects.count() == before + 1
        assert model.objects.filter(pk=made["id"]).exists()
    door = Door.objects.get(number="7-01")
    assert (door.is_egress, door.is_fire_rated, door.door_class) == (True, False, "ordinary")
    assert list(door.spaces.all()) == [plot.space]


def test_what_fits_a_filled_housing_stays(api: Api, estate: Estate, cast: Cast) -> None:
    path = f"housings/{estate.housing.pk}/"
    refused = problem(api.patch(path, {"construction": "ordinary"}, match=tag(api, path)), 422, "refused")
    assert "swap order" in refused["detail"]
    empty = f"housings/{make_housing(cast.north).pk}/"
    assert api.patch(empty, {"construction": "ordinary"}, match=tag(api, empty)).status_code == 200
