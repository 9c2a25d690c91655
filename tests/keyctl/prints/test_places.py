"""Door schedule, lock chart and hand-over binder: true to the pins, bound to roles, and without bittings."""

import io
import re
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from keyctl.audit.selectors import history_of
from keyctl.cores.chart import building_part, chart_of
from keyctl.cores.models import Core, Turn
from keyctl.jobs.models import Job
from keyctl.jobs.selectors import failure_shown_to
from keyctl.jobs.services import open_file
from keyctl.lib.errors import Refused
from keyctl.orders.services import open_swap_order
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.prints.lists import lockchart
from keyctl.prints.lists.exporting import ask_place_export, make_export
from keyctl.prints.models import Export
from keyctl.reveals.models import Permission
from keyctl.reveals.services import grant
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate
from tests.keyctl.prints.reading import cells_of, faults_of, pages_of, text_of
from tests.signing import proven, sign_in

Kind, Form = Export.Kind, Export.Form
REASON = "New facility manager"


@pytest.fixture
def estate(cast: Cast) -> Estate:
    """Three doors of one building, one of another; somebody holds a key."""
    estate = Estate.of(cast)
    estate.door("AA1", number="S-117", name="Store, שער", is_egress=True)
    estate.door("AB1", number="S-118", is_fire_rated=True, fire_rating="60 min")
    factories.make_door(floor=estate.floor, number="S-119")
    space = factories.make_space(estate.floor, number="1A03")
    Core.objects.get(keyings__symbol__symbol="AA1").housing.door.spaces.add(space)  # type: ignore[union-attr]
    estate.held("AA1", factories.make_holder(cast.north, name="Ada Quill"))
    estate.door("AA2", number="T-200", floor=factories.make_floor(cast.north))
    return estate


def ask(estate: Estate, kind: Export.Kind, **facts: Any) -> Export:
    facts = {
        "actor": estate.cast.locksmith,
        "site": estate.cast.north,
        "building": estate.building,
        "form": Form.PDF,
        "reason": REASON,
        **facts,
    }
    return ask_place_export(kind=kind, **facts)


def made(export: Export) -> bytes:
    export.refresh_from_db()
    assert export.job
    job = finish(export.job)
    assert job.state == Job.State.DONE, failure_shown_to(job.actor, job)
    return open_file(actor=job.actor, sign_in=proven(job.actor), file=job.files.get())


def bittings(estate: Estate) -> dict[str, str]:
    return {key.symbol: bitting_of(key) for key in estate.system.symbols.all()}


def test_the_door_schedule_has_each_lock_with_its_keys_by_the_pins(estate: Estate) -> None:
    document = made(ask(estate, Kind.DOORS))
    assert faults_of(document) == []
    head, *rows = [row for row in cells_of(document) if len(row) == 9]
    assert head[0] == "Door"
    by_door = {row[0].split()[-1]: row for row in rows}
    assert set(by_door) == {"S-117", "S-118", "S-119"}
    assert (by_door["S-117"][2], by_door["S-117"][4]) == ("1A03", "way out")
    assert (by_door["S-118"][4], by_door["S-119"][5]) == ("fire 60 min", "none")
    for number in ("S-117", "S-118"):
        core = Core.objects.get(housing__door__number=number)
        turned = Turn.objects.filter(core=core, operates=True).values_list("symbol__symbol", flat=True)
        assert by_door[number][6] == str(core)
        assert set(by_door[number][8].split()) == set(turned)
    text = text_of(document)
    assert not [bitting for bitting in bittings(estate).values() if bitting in text]


def test_the_door_schedule_is_a_workbook_as_well(estate: Estate) -> None:
    sheet = load_workbook(io.BytesIO(made(ask(estate, Kind.DOORS, form=Form.WORKBOOK))))["Doors"]
    assert [row[0].split()[-1] for row in sheet.iter_rows(min_row=2, values_only=True)] == [  # type: ignore[union-attr]
        "S-117",
        "S-118",
        "S-119",
    ]


def test_the_lock_chart_says_what_the_page_of_the_chart_says(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Parted after each key and each core; put together again it is the chart that the browser shows."""
    monkeypatch.setattr(lockchart, "_keys_on_a_page", lambda _width: 2)
    monkeypatch.setattr(lockchart, "_cores_on_a_page", lambda _height, _keys: 1)
    actor = estate.cast.locksmith
    shown = chart_of(actor, building_part(actor, estate.building, None), None, None)
    expected = {
        (str(row.core), str(key)): lockchart.SIGNS[cell.mark]
        for row in shown.rows
        for key, cell in zip(shown.keys, row.cells, strict=True)
        if cell.mark
    }
    document = made(ask(estate, Kind.CHART))
    assert faults_of(document) == []
    found: dict[tuple[str, str], str] = {}
    keys: list[str] = []
    for row in cells_of(document):
        if row[0] == "Door":
            keys = row[2:]
        else:
            found |= {(row[1], key): sign for key, sign in zip(keys, row[2:], strict=True) if sign}
    assert found == expected
    assert len(expected) > len(shown.rows)
    assert not any(row[0] == "T-200" for row in cells_of(document))


@pytest.fixture
def binder(estate: Estate) -> bytes:
    housing = Core.objects.get(housing__door__number="S-117").housing
    assert housing
    open_swap_order(actor=estate.cast.locksmith, site=estate.cast.north, title="New door", housings=[housing])
    return made(ask(estate, Kind.BINDER))


def test_the_binder_holds_all_parts_with_true_page_numbers_and_bookmarks(
    estate: Estate, binder: bytes
) -> None:
    assert faults_of(binder) == []
    pages = pages_of(binder)
    told = dict(
        re.findall(
            r"^(Door schedule|Lock charts|Keys and who holds them|Open orders)[ .]*(\d+)$", pages[0], re.M
        )
    )
    assert len(told) == 4
    for words, number in told.items():
        assert words in pages[int(number) - 1].splitlines()[:8], words
    marks = [str(mark.title) for mark in _flat(PdfReader(io.BytesIO(binder)).outline)]
    assert {"Door schedule", "Lock charts", "Open orders", "The control key", "Signs and words"} <= set(marks)
    text = "\n".join(pages)
    for words in ("S-117", "Ada Quill", "New door", "No bittings stand", "turns it, as planned", REASON):
        assert words in text, words
    assert "T-200" not in text
    assert not [bitting for bitting in bittings(estate).values() if bitting in text.replace(" ", "")]


def _flat(marks: list[Any]) -> list[Any]:
    return [each for mark in marks for each in (_flat(mark) if isinstance(mark, list) else [mark])]


def test_who_may_not_read_keys_gets_a_binder_without_holders(estate: Estate) -> None:
    text = text_of(made(ask(estate, Kind.BINDER, actor=estate.cast.manager)))
    assert "S-117" in text
    assert "Ada Quill" not in text
    assert "Whoever took this binder is none of them" in text


def test_bittings_want_a_second_person_and_are_of_these_doors_alone(estate: Estate) -> None:
    export = ask(estate, Kind.BINDER, with_bittings=True)
    smith = estate.cast.locksmith
    with pytest.raises(Refused, match="A second person is needed"):
        make_export(actor=smith, export=export, sign_in=proven(smith))
    second = factories.make_user(site=estate.cast.north, role=Role.OFFICER)
    asked = Permission.objects.get(subject_id=export.pk)
    grant(actor=second, permission=asked, sign_in=proven(second), minutes=30, decision="Handed over")
    make_export(actor=smith, export=export, sign_in=proven(smith))
    document = made(export)
    assert faults_of(document) == []
    pairs = [row for row in cells_of(document) if row and row[0] in bittings(estate) and len(row) % 2 == 0]
    shown = {
        symbol: bitting
        for row in pairs
        for symbol, bitting in zip(row[::2], row[1::2], strict=True)
        if symbol
    }
    vault = bittings(estate)
    assert {symbol: vault[symbol] for symbol in shown} == shown
    assert {"A", "AA", "AA1", "AB1", "CTR"} <= set(shown)
    assert "AA2" not in shown
    assert "SECRET" in text_of(document)
    assert [event.verb for event in history_of(export).order_by("pk")][:3] == [
        "export.asked",
        "export.released",
        "export.opened",
    ]


@pytest.mark.parametrize("name", ["desk", "requester"])
def test_some_take_none(estate: Estate, name: str) -> None:
    with pytest.raises(PermissionDenied):
        ask(estate, Kind.DOORS, actor=estate.cast.everybody[name])


@pytest.mark.parametrize("name", ["manager", "auditor", "administrator"])
def test_bittings_are_not_for_who_takes_no_bitting_list(estate: Estate, name: str) -> None:
    with pytest.raises(PermissionDenied):
        ask(estate, Kind.BINDER, actor=estate.cast.everybody[name], with_bittings=True)


def test_what_makes_no_sense_is_refused_in_words(estate: Estate) -> None:
    foreign = factories.make_floor(estate.cast.south).building
    with pytest.raises(Refused, match="does not stand at"):
        ask(estate, Kind.DOORS, building=foreign)
    with pytest.raises(Refused, match="on paper alone"):
        ask(estate, Kind.CHART, form=Form.WORKBOOK)
    with pytest.raises(Refused, match="holds no bittings"):
        ask(estate, Kind.DOORS, with_bittings=True)
    with pytest.raises(Refused, match="Say why"):
        ask(estate, Kind.DOORS, reason=" ")


def test_not_made_for_somebody_who_lost_the_role_meanwhile(estate: Estate) -> None:
    export = ask(estate, Kind.BINDER)
    assert export.job
    Membership.objects.filter(user=estate.cast.locksmith).update(role="requester")
    assert finish(export.job).state == Job.State.FAILED


def test_the_page_offers_the_prints_and_leads_to_the_job(estate: Estate, client: Client) -> None:
    sign_in(client, estate.cast.manager)
    page = reverse("prints:site", args=[estate.cast.north.pk])
    shown = client.get(page, {"building": str(estate.building.pk)}).content.decode()
    assert f'<option value="{estate.building.pk}" selected>' in shown
    assert "with_bittings" not in shown
    facts = {"kind": "door-schedule", "form": "pdf", "building": str(estate.building.pk), "reason": REASON}
    answer = client.post(page, facts)
    assert answer.headers["Location"] == reverse("jobs:detail", args=[Job.objects.get().pk])
    assert Export.objects.get().building == estate.building
    assert client.post(page, facts | {"reason": ""}).status_code == 422


def test_the_register_names_the_place(estate: Estate, client: Client) -> None:
    ask(estate, Kind.CHART)
    client.force_login(estate.cast.auditor)
    page = client.get(reverse("prints:exports")).content.decode()
    assert "Lock chart" in page
    assert str(estate.building) in page
