"""Labels: where they lie, what stands on them, and that another program reads every code from the picture."""

import io
from decimal import Decimal
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.labels.models import LabelGrid
from keyctl.labels.services import add_grid, change_grid, print_labels
from keyctl.labels.sheets import place_of
from keyctl.lib.errors import Refused
from keyctl.orders.services import open_pin_order
from keyctl.places.finding import printed_address
from keyctl.places.models import Door
from tests import factories
from tests.cast import Cast
from tests.keyctl.prints.reading import faults_of
from tests.scenes.labels import GRID

DOTS_PER_INCH = 150
SMALL: dict[str, Any] = {
    **GRID,
    "name": "Smallest that fits",
    "columns": 10,
    "rows": 11,
    "width": Decimal("19"),
    "height": Decimal("25"),
    "left": Decimal("8"),
    "top": Decimal("5"),
    "step_x": Decimal("19.5"),
    "step_y": Decimal("25"),
}


@pytest.fixture
def grid(cast: Cast) -> LabelGrid:
    return add_grid(actor=cast.locksmith, site=cast.north, **GRID)


@pytest.fixture
def doors(cast: Cast) -> list[Door]:
    floor = factories.make_floor(cast.north)
    return [factories.make_door(floor=floor, number=f"1.{nth:02}") for nth in range(1, 6)]


def labels(cast: Cast, grid: LabelGrid, doors: list[Door], **facts: Any) -> bytes:
    facts.setdefault("choice", "building")
    facts.setdefault("part", doors[0].building.pk)
    return print_labels(actor=cast.locksmith, grid=grid, **facts)


def codes_in(pdf: bytes, page: int = 0) -> dict[str, tuple[float, float, float]]:
    """What an independent reader finds: the text, and left, top and width of the code in mm."""
    picture = pypdfium2.PdfDocument(pdf)[page].render(scale=DOTS_PER_INCH / 72).to_pil()
    found = zxingcpp.read_barcodes(picture)
    mm = 25.4 / DOTS_PER_INCH
    corners = {each.text: (each.position.top_left, each.position.bottom_right) for each in found}
    return {
        text: (first.x * mm, first.y * mm, (last.x - first.x) * mm) for text, (first, last) in corners.items()
    }


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.parametrize("measures", [GRID, SMALL])
def test_every_code_is_read_back_at_150_dpi_and_is_12_mm_wide(
    cast: Cast, doors: list[Door], measures: dict[str, Any]
) -> None:
    grid = add_grid(actor=cast.locksmith, site=cast.north, **measures)
    found = codes_in(labels(cast, grid, doors))
    assert set(found) == {printed_address(door.tag) for door in doors}
    assert all(width >= 12 - 25.4 / DOTS_PER_INCH for _, _, width in found.values())


def test_each_lies_on_its_own_label_shifted_as_asked(cast: Cast, grid: LabelGrid, doors: list[Door]) -> None:
    change_grid(actor=cast.locksmith, grid=grid, shift_x=Decimal("1.5"), shift_y=Decimal("-2"))
    grid.refresh_from_db()
    found = codes_in(labels(cast, grid, doors, start=6))
    # The sixth label is the last of the second row; by hand: 7.2 + 2 x 66 + 1.5 and 15.1 + 38.1 - 2.
    assert place_of(grid, 5) == (Decimal("140.7"), Decimal("51.2"))
    for nth, door in enumerate(doors, 5):
        left, top, width = found[printed_address(door.tag)]
        corner = place_of(grid, nth)
        assert float(corner[0]) < left
        assert left + width < float(corner[0] + grid.width)
        assert float(corner[1]) < top
        assert top + width < float(corner[1] + grid.height)


def test_what_does_not_fit_goes_on_the_next_sheet(cast: Cast, grid: LabelGrid, doors: list[Door]) -> None:
    pdf = labels(cast, grid, doors, start=20)
    assert [len(codes_in(pdf, page)) for page in range(2)] == [2, 3]
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2


def test_the_sheet_has_the_size_of_its_paper(cast: Cast, doors: list[Door]) -> None:
    grid = add_grid(
        actor=cast.locksmith,
        site=cast.north,
        **{**GRID, "paper": "letter", "rows": 6, "left": Decimal(8), "top": Decimal(20)},
    )
    page = PdfReader(io.BytesIO(labels(cast, grid, doors))).pages[0].mediabox
    # US Letter is 8.5 x 11 inches (ANSI/ASME Y14.1, size A).
    assert (round(float(page.width)), round(float(page.height))) == (612, 792)


def test_the_label_of_a_core_names_no_door_and_no_key(cast: Cast, grid: LabelGrid) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    order = open_pin_order(actor=cast.locksmith, site=cast.north, title="Secret wing", cores=[core])
    pdf = print_labels(actor=cast.locksmith, grid=grid, choice="order", part=order.pk)
    words = text_of(pdf)
    assert str(core) in words
    assert set(codes_in(pdf)) == {printed_address(core.tag)}
    for secret in (
        system.code,
        core.keyed_to.get().symbol,
        "Secret wing",
        str(order.number),
        cast.north.name,
    ):
        assert secret not in words.replace(str(core), "")


def test_free_cores_get_theirs(cast: Cast, grid: LabelGrid) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    cores = [
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
        for _ in range(3)
    ]
    gone = cores.pop()
    Core.objects.filter(pk=gone.pk).update(place=Core.Place.GONE)
    pdf = print_labels(actor=cast.desk, grid=grid, choice="free")
    assert faults_of(pdf) == []
    assert set(codes_in(pdf)) == {printed_address(core.tag) for core in cores}


@pytest.mark.parametrize("measures", [GRID, SMALL])
def test_cabinets_get_theirs_and_no_name(cast: Cast, measures: dict[str, Any]) -> None:
    grid = add_grid(actor=cast.desk, site=cast.north, **measures)
    cabinets = [factories.make_cabinet(cast.north) for _ in range(3)]
    factories.make_cabinet(cast.south)
    pdf = print_labels(actor=cast.desk, grid=grid, choice="cabinets", start=2)
    found = codes_in(pdf)
    assert set(found) == {printed_address(cabinet.tag) for cabinet in cabinets}
    assert all(width >= 12 - 25.4 / DOTS_PER_INCH for _, _, width in found.values())
    words = text_of(pdf)
    assert all(cabinet.code in words.replace("\n", "") for cabinet in cabinets)
    assert not any(cabinet.name in words for cabinet in cabinets)


def test_the_code_of_a_cabinet_leads_to_its_page(client: Client, cast: Cast) -> None:
    cabinet = factories.make_cabinet(cast.north)
    client.force_login(cast.desk)
    page = reverse("keys:cabinet", args=[cabinet.pk])
    assert client.get(f"/Q/{cabinet.tag.lower()}").headers["Location"] == page
    assert cabinet.code in client.get(page).content.decode()


@pytest.mark.parametrize(("name", "status"), [("requester", 403), ("stranger", 404)])
def test_the_code_of_a_cabinet_tells_an_outsider_nothing(
    client: Client, cast: Cast, name: str, status: int
) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(f"/Q/{factories.make_cabinet(cast.north).tag}").status_code == status


def test_whoever_keeps_cabinets_is_led_to_their_labels(client: Client, cast: Cast) -> None:
    client.force_login(cast.desk)
    answer = client.get(reverse("labels:sites") + "?choice=cabinets")
    assert answer.headers["Location"] == reverse("labels:print", args=[cast.north.pk]) + "?choice=cabinets"


def test_history_knows_how_many(cast: Cast, grid: LabelGrid, doors: list[Door]) -> None:
    labels(cast, grid, doors)
    event = history_of(grid)[0]
    assert (event.verb, event.sentence) == ("labels.printed", "printed 5 labels on “Three by seven”")


@pytest.mark.parametrize("start", [0, 22])
def test_a_label_that_is_not_on_the_sheet_is_refused(
    cast: Cast, grid: LabelGrid, doors: list[Door], start: int
) -> None:
    with pytest.raises(Refused, match="has labels 1 to 21"):
        labels(cast, grid, doors, start=start)


def test_nothing_to_print_is_said(cast: Cast, grid: LabelGrid) -> None:
    with pytest.raises(Refused, match="nothing to print"):
        print_labels(actor=cast.locksmith, grid=grid, choice="free")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"columns": 4},
            "The columns do not lie on the sheet: they go from 7.2 to 268.7 mm, and it is 210 mm",
        ),
        ({"rows": 8}, "The rows do not lie on the sheet"),
        ({"shift_x": Decimal(-8)}, "The columns do not lie on the sheet"),
        ({"step_x": Decimal(60)}, "upon one another"),
        ({"width": Decimal(18), "step_x": Decimal(18)}, "have no room there"),
        ({"height": Decimal(18)}, "have no room there"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(cast: Cast, change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refused) as refusal:
        add_grid(actor=cast.locksmith, site=cast.north, **{**GRID, **change})
    assert any(sentence in reason for reason in refusal.value.reasons)


def test_a_name_is_used_once_at_a_site(cast: Cast, grid: LabelGrid) -> None:
    with pytest.raises(Refused) as refusal:
        add_grid(actor=cast.locksmith, site=grid.site, **GRID)
    assert (
        "There is a label sheet “Three by seven” at North site. Choose another name." in refusal.value.reasons
    )


@pytest.mark.parametrize("name", ["manager", "officer", "auditor", "requester"])
def test_only_who_works_with_cores_and_keys_prints(cast: Cast, grid: LabelGrid, name: str) -> None:
    with pytest.raises(PermissionDenied):
        print_labels(actor=getattr(cast, name), grid=grid, choice="free")


def test_a_stranger_prints_nothing(cast: Cast, grid: LabelGrid) -> None:
    with pytest.raises(Http404):
        print_labels(actor=cast.stranger, grid=grid, choice="free")


def test_a_building_of_another_site_has_no_labels_here(cast: Cast, grid: LabelGrid) -> None:
    elsewhere = factories.make_door(cast.south)
    with pytest.raises(Refused, match="nothing to print"):
        print_labels(actor=cast.locksmith, grid=grid, choice="building", part=elsewhere.building.pk)


def test_the_page_measures_a_sheet_and_prints_on_it(client: Client, cast: Cast, doors: list[Door]) -> None:
    client.force_login(cast.locksmith)
    facts = {**GRID, "shift_x": 0, "shift_y": 0}
    answer = client.post(reverse("labels:new-grid", args=[cast.north.pk]), facts)
    assert answer.headers["Location"] == reverse("labels:print", args=[cast.north.pk])
    facts = {"choice": "building", "building": doors[0].building.pk, "start": 1}
    facts["grid"] = cast.north.label_grids.get().pk
    answer = client.post(reverse("labels:print", args=[cast.north.pk]), facts)
    assert answer.headers["Content-Type"] == "application/pdf"
    assert len(codes_in(answer.content)) == len(doors)


def test_the_page_asks_which_building(client: Client, cast: Cast, grid: LabelGrid) -> None:
    client.force_login(cast.locksmith)
    facts = {"choice": "building", "start": 1, "grid": grid.pk}
    answer = client.post(reverse("labels:print", args=[cast.north.pk]), facts)
    assert answer.status_code == 422
    assert "Choose one." in answer.content.decode()


def test_the_code_of_a_door_leads_to_its_page(client: Client, cast: Cast, doors: list[Door]) -> None:
    client.force_login(cast.locksmith)
    answer = client.get(f"/Q/{doors[0].tag.lower()}")
    assert answer.headers["Location"] == reverse("cores:door", args=[doors[0].pk])


@pytest.mark.parametrize(("name", "status"), [("requester", 403), ("stranger", 404)])
def test_the_code_of_a_door_tells_an_outsider_nothing(
    client: Client, cast: Cast, doors: list[Door], name: str, status: int
) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(f"/Q/{doors[0].tag}").status_code == status


def test_the_code_of_a_site_ends_no_header(client: Client, cast: Cast, doors: list[Door]) -> None:
    cast.north.code = 'N"\r\nX: 1'
    cast.north.save(update_fields=["code"])
    grid = add_grid(actor=cast.locksmith, site=cast.north, **GRID)
    client.force_login(cast.locksmith)
    facts = {"choice": "building", "building": doors[0].building.pk, "grid": grid.pk, "start": 1}
    answer = client.post(reverse("labels:print", args=[cast.north.pk]), facts)
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="labels-n-x-1-')
