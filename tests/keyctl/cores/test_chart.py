"""The chart of a part: its marks against pins and plan worked out anew, its scope, its size."""

import re
from typing import Any
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl import engine
from keyctl.cores import chart as charting
from keyctl.cores.chart import branch_part, building_part, chart_of, door_part
from keyctl.cores.marks import Mark, mark_of
from keyctl.cores.models import Core, Turn
from keyctl.cores.turning import pins_of
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast

SVG = "{http://www.w3.org/2000/svg}"


def installed(cast: Cast, system: KeySystem, names: list[str], floor: Any = None, **facts: Any) -> Core:
    symbols = [factories.symbol(system, name) for name in names]
    core = factories.make_core(
        actor=cast.locksmith,
        site=cast.north,
        system=system,
        symbols=symbols,
        pinned=facts.pop("pinned", True),
    )
    door = factories.make_door(cast.north, floor=floor, **facts)
    return factories.install(core, factories.make_housing(door=door))


def marks(chart: charting.Chart) -> dict[tuple[str, str], str]:
    """(tag, symbol) -> mark, as far as there is one."""
    return {
        (row.core.tag, str(key)): cell.mark.value
        for row in chart.rows
        for key, cell in zip(chart.keys, row.cells, strict=True)
        if cell.mark
    }


def expected(cores: list[Core], keys: list[KeySymbol]) -> dict[tuple[str, str], str]:
    """The same, by trying each key in each core, and by walking up from what the core is keyed to."""
    found = {}
    for core in cores:
        planned = set()
        for keying in core.keyings.all():
            key: KeySymbol | None = keying.symbol
            while key is not None:
                planned.add(key.pk)
                key = key.parent
        for key in keys:
            bitting = engine.read_key(key.system.format_id, bitting_of(key))
            done = engine.try_key(pins_of(core), bitting)
            means = key.kind == "control" if done.withdraws else key.pk in planned
            if done.operates or done.withdraws:
                what = "takes-out" if done.withdraws else "turns"
                found[core.tag, str(key)] = what if means else f"{what}-unplanned"
            elif key.pk in planned or key.kind == "control":
                found[core.tag, str(key)] = "does-not"
    return found


def test_every_mark_of_a_building_is_what_pins_and_plan_say(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    floor = factories.make_floor(cast.north)
    cores = [installed(cast, system, names, floor) for names in (["AA1"], ["AB2"], ["AA2", "AB1"])]
    found = chart_of(cast.auditor, building_part(cast.auditor, floor.building, None), None, None)
    assert marks(found) == expected(cores, list(system.symbols.all()))
    assert {"turns", "takes-out", "turns-unplanned"} <= set(marks(found).values())


@pytest.mark.parametrize(
    ("kind", "is_planned", "is_pinned", "turn", "mark"),
    [
        ("change", True, True, (True, False), Mark.TURNS),
        ("change", False, True, (True, False), Mark.TURNS_UNPLANNED),
        ("change", True, True, None, Mark.DOES_NOT),
        ("change", True, False, None, Mark.WAITS),
        ("change", False, True, None, None),
        ("change", True, True, (False, True), Mark.TAKES_OUT_UNPLANNED),
        ("change", True, True, (True, True), Mark.TAKES_OUT_UNPLANNED),
        ("control", True, True, (False, True), Mark.TAKES_OUT),
        ("control", False, True, (False, True), Mark.TAKES_OUT_UNPLANNED),
        ("control", True, True, (True, True), Mark.TAKES_OUT_UNPLANNED),
        ("control", True, True, (True, False), Mark.TURNS_UNPLANNED),
        ("control", True, True, None, Mark.DOES_NOT),
    ],
)
def test_each_case_has_its_mark(
    kind: str, is_planned: bool, is_pinned: bool, turn: tuple[bool, bool] | None, mark: Mark | None
) -> None:
    assert mark_of(KeySymbol(kind=kind), is_planned=is_planned, is_pinned=is_pinned, turn=turn) == mark


def test_stored_turns_decide_and_a_core_without_pins_waits(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    floor = factories.make_floor(cast.north)
    bare = installed(cast, system, ["AA1"], floor, pinned=False)
    odd = installed(cast, system, ["AA1"], floor)
    Turn.objects.filter(core=odd, symbol__symbol="AA1").delete()
    found = marks(chart_of(cast.auditor, building_part(cast.auditor, floor.building, None), None, None))
    assert found[bare.tag, "AA1"] == "waits"
    assert found[odd.tag, "AA1"] == "does-not"


def test_a_branch_has_its_keys_the_control_key_and_the_cores_they_mean_something_to(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    inside, outside = installed(cast, system, ["AA1"]), installed(cast, system, ["AB1"])
    shelved = factories.make_core(
        actor=cast.locksmith, site=cast.north, system=system, symbols=[factories.symbol(system, "AA2")]
    )
    found = chart_of(cast.auditor, branch_part(cast.auditor, factories.symbol(system, "AA")), None, None)
    assert [str(key) for key in found.keys] == ["AA", "AA1", "AA2", engine.CONTROL]
    assert [row.core for row in found.rows] == [inside, shelved]
    assert outside not in [row.core for row in found.rows]
    assert [(band.words, band.size) for band in found.bands] == [
        (f"{system.code}: Masters, level 1", 1),
        (f"{system.code}: Change keys", 2),
        (f"{system.code}: Control", 1),
    ]


def test_a_floor_narrows_a_building(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    low = factories.make_floor(cast.north)
    high = factories.make_floor(building=low.building)
    one, two = installed(cast, system, ["AA1"], low), installed(cast, system, ["AA2"], high)
    actor = cast.auditor
    whole = chart_of(actor, building_part(actor, low.building, None), None, None)
    part = chart_of(actor, building_part(actor, low.building, high), None, None)
    assert {row.core for row in whole.rows} == {one, two}
    assert [row.core for row in part.rows] == [two]
    assert "AA1" not in [str(key) for key in part.keys]


def test_the_neighbourhood_of_a_door_begins_with_it(cast: Cast) -> None:
    """Then its floor, then what its change key turns elsewhere; what only a master shares is left out."""
    system = factories.make_system(cast.north, actor=cast.administrator)
    floor = factories.make_floor(cast.north)
    same_floor = installed(cast, system, ["AB1"], floor, number="001")
    own = installed(cast, system, ["AA1"], floor, number="900")
    same_key = installed(cast, system, ["AA1"])
    installed(cast, system, ["AA2"])
    assert own.housing
    found = chart_of(cast.auditor, door_part(cast.auditor, own.housing.door), None, None)
    assert [row.core for row in found.rows] == [own, same_floor, same_key]
    assert [row.is_chosen for row in found.rows] == [True, False, False]


def test_cores_of_other_sites_are_not_shown(cast: Cast) -> None:
    system = factories.make_system(cast.north, cast.south, actor=cast.administrator)
    ours = installed(cast, system, ["AA1"])
    theirs = factories.make_core(
        actor=cast.stranger, site=cast.south, system=system, symbols=[factories.symbol(system, "AA1")]
    )
    for actor, seen in ((cast.auditor, ours), (cast.stranger, theirs)):
        found = chart_of(actor, branch_part(actor, factories.symbol(system, "A")), None, None)
        assert [row.core for row in found.rows] == [seen]


def test_it_is_paged_in_both_directions(cast: Cast, monkeypatch: pytest.MonkeyPatch, client: Client) -> None:
    monkeypatch.setattr(charting, "CORES_ON_A_PAGE", 2)
    monkeypatch.setattr(charting, "KEYS_ON_A_PAGE", 3)
    system = factories.make_system(cast.north, actor=cast.administrator)
    for name in ("AA1", "AA2", "AB1"):
        installed(cast, system, [name])
    top = factories.symbol(system, "A")
    first = chart_of(cast.auditor, branch_part(cast.auditor, top), None, None)
    last = chart_of(cast.auditor, branch_part(cast.auditor, top), "2", "3")
    assert (len(first.rows), len(first.keys)) == (2, 3)
    assert (len(last.rows), [str(key) for key in last.keys]) == (1, ["AB2", engine.CONTROL])
    client.force_login(cast.auditor)
    page = client.get(reverse("cores:key-chart", args=[top.pk]), {"cores": "2"}).content.decode()
    assert "?cores=2&amp;keys=2" in page
    assert "?keys=1&amp;cores=1" in page


@pytest.mark.parametrize("name", ["key-chart", "building-chart", "door-chart"])
def test_more_cores_and_keys_take_no_more_queries(cast: Cast, client: Client, name: str) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator, levels=(((1, 2), 4), ((3, 4), 4)))
    floor = factories.make_floor(cast.north)
    first = installed(cast, system, ["AA1"], floor)
    assert first.housing
    things = {
        "key-chart": factories.symbol(system, "A"),
        "building-chart": floor.building,
        "door-chart": first.housing.door,
    }
    client.force_login(cast.auditor)
    address = reverse(f"cores:{name}", args=[things[name].pk])

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    before = asked()
    for symbol in ("AB1", "AB2", "AC1", "AC2", "AD3"):
        installed(cast, system, [symbol], floor)
    assert asked() == before <= 16


def test_the_drawing_has_the_same_marks_as_the_table(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    installed(cast, system, ["AA1"], name="Records & <keys>")
    installed(cast, system, ["AB1"], pinned=False)
    client.force_login(cast.auditor)
    address = reverse("cores:key-chart", args=[factories.symbol(system, "A").pk])
    page = client.get(address).content.decode()
    answer = client.get(address, {"as": "drawing"})
    assert answer.headers["Content-Type"] == "image/svg+xml"
    drawn = ElementTree.fromstring(answer.content.decode())  # noqa: S314 (our own drawing)
    uses = [use.attrib["href"].removeprefix("#mark-") for use in drawn.iter(f"{SVG}use")]
    told = re.findall(r'role="img" aria-label="[^"]+"><title>[^<]+</title><use href="#mark-([a-z-]+)"', page)
    assert sorted(uses) == sorted([*told, *Mark.values])
    assert len(told) == 2 * 4
    assert "Records &amp; &lt;keys&gt;" in page


def test_a_chart_tells_no_bitting(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    installed(cast, system, ["AA1"])
    client.force_login(cast.locksmith)
    address = reverse("cores:key-chart", args=[factories.symbol(system, "A").pk])
    for query in ({}, {"as": "drawing"}):
        page = client.get(address, query).content.decode()
        assert not [key for key in system.symbols.all() if bitting_of(key) in page]


def test_a_part_without_cores_says_so(cast: Cast, client: Client) -> None:
    client.force_login(cast.auditor)
    floor = factories.make_floor(cast.north)
    page = client.get(reverse("cores:building-chart", args=[floor.building.pk])).content.decode()
    assert "Nothing to chart here" in page


@pytest.mark.parametrize(
    ("who", "status"), [("auditor", 200), ("desk", 200), ("requester", 403), ("stranger", 404)]
)
def test_the_staff_of_the_site_may_look(cast: Cast, client: Client, who: str, status: int) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = installed(cast, system, ["AA1"])
    assert core.housing
    door = core.housing.door
    client.force_login(getattr(cast, who))
    for name, thing in (
        ("key-chart", factories.symbol(system, "A")),
        ("building-chart", door.building),
        ("door-chart", door),
    ):
        assert client.get(reverse(f"cores:{name}", args=[thing.pk])).status_code == status


def test_it_is_linked_from_system_estate_and_door(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = installed(cast, system, ["AA1"])
    assert core.housing
    door = core.housing.door
    client.force_login(cast.auditor)
    for page, name, thing in (
        (reverse("systems:detail", args=[system.pk]), "key-chart", factories.symbol(system, "A")),
        (
            reverse("cores:symbol", args=[factories.symbol(system, "AA").pk]),
            "key-chart",
            factories.symbol(system, "AA"),
        ),
        (f"{reverse('cores:estate')}?building={door.building.pk}", "building-chart", door.building),
        (reverse("cores:door", args=[door.pk]), "door-chart", door),
    ):
        assert reverse(f"cores:{name}", args=[thing.pk]) in client.get(page).content.decode()
