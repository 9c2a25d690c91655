"""Doors as COBie: identifiers come back as they came, in a file that other programs read."""

import io
import uuid
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from keyctl.audit.models import Event
from keyctl.exports.cobie.services import export_cobie
from keyctl.imports.cobie import kind
from keyctl.imports.cobie.reading import read
from keyctl.lib.guids import guid_of, uuid_of
from keyctl.places.models import Building, Door, Floor, Identifier, Site, Space
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.imports.files import taken, tried
from tests.keyctl.imports.workbooks import cobie, house, sheet_of
from tests.open_data import open_data

pytestmark = pytest.mark.django_db
# The heads of the open hand-over are those of the form.
FORM = "duplex-cobie.xlsx"


@pytest.fixture(autouse=True)
def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kind, "read_cobie", read)


@pytest.fixture
def building(cast: Cast) -> Building:
    taken(cast.administrator, cast.north, kind="cobie", content=cobie(house()))
    return Building.objects.get()


def exported(cast: Cast, building: Building) -> bytes:
    return export_cobie(actor=cast.administrator, building=building)


def bring_south(cast: Cast, content: bytes) -> None:
    somebody = factories.make_user("south-side", site=cast.south, role=Role.ADMINISTRATOR)
    taken(somebody, cast.south, kind="cobie", content=content)


FACTS = ("number", "hardware_set", "fire_rating", "stated_use", "serial_number", "asset_tag", "bar_code")


def told_of(site: Site) -> dict[str, tuple[str, ...]]:
    """What stands of each door at a site, by its GlobalId."""
    rows = Identifier.objects.filter(site=site, kind="door").select_related("door__floor")
    return {
        row.value: (
            *(str(getattr(row.door, fact)) for fact in FACTS),
            row.door.floor.label,
            *sorted(row.door.spaces.values_list("number", flat=True)),
        )
        for row in rows
        if row.door
    }


def test_what_came_in_goes_out_and_comes_in_elsewhere_as_the_same_doors(
    cast: Cast, building: Building
) -> None:
    bring_south(cast, exported(cast, building))
    assert told_of(cast.south) == told_of(cast.north)
    assert len(told_of(cast.south)) == 3


def test_so_do_the_doors_of_the_open_duplex(cast: Cast) -> None:
    content = open_data(FORM).read_bytes()
    taken(cast.administrator, cast.north, kind="cobie", content=content)
    out = exported(cast, Building.objects.get())
    bring_south(cast, out)
    assert told_of(cast.south) == told_of(cast.north)
    assert {row["ExtIdentifier"] for row in sheet_of(out, "Component")} == {
        row["ExtIdentifier"] for row in sheet_of(content, "Component") if row["ExtObject"] == "IfcDoor"
    }


def test_the_site_itself_finds_nothing_new_in_its_own_export(cast: Cast, building: Building) -> None:
    door = factories.make_door(floor=building.floors.all()[0], number="7", name="Shed")
    imported = tried(cast.administrator, cast.north, kind="cobie", content=exported(cast, building))
    counts = imported.counts["things"]
    assert (counts["doors"]["read"], counts["doors"]["unchanged"]) == (4, 4)
    assert counts["spaces"]["created"] == counts["floors"]["created"] == counts["buildings"]["created"] == 0
    assert Door.objects.filter(pk=door.pk).exists()


def test_a_door_that_no_program_named_has_our_identifier_in_their_form(
    cast: Cast, building: Building
) -> None:
    """By the library of building models, which writes such identifiers itself."""
    guid = pytest.importorskip("ifcopenshell.guid")
    door = factories.make_door(floor=building.floors.all()[0], number="7")
    row = next(row for row in sheet_of(exported(cast, building), "Component") if row["Name"] == "Door 7")
    assert (row["ExtSystem"], row["ExtIdentifier"]) == ("keyctl", guid.compress(door.pk.hex))
    assert row["AssetIdentifier"] == str(door.pk)


def test_identifiers_are_turned_there_and_back_as_the_library_does() -> None:
    guid = pytest.importorskip("ifcopenshell.guid")
    for number in (0, 1, 63, 64, 2**127, 2**128 - 1, *(uuid.uuid4().int for _ in range(200))):
        pk = uuid.UUID(int=number)
        assert guid_of(pk) == guid.compress(pk.hex)
        assert uuid_of(guid_of(pk)) == pk


def test_every_sheet_has_the_forms_columns_in_their_order(cast: Cast, building: Building) -> None:
    form = load_workbook(open_data(FORM), read_only=True)
    ours = load_workbook(io.BytesIO(exported(cast, building)), read_only=True)
    for sheet in ours:
        heads = [next(book[sheet.title].iter_rows(max_row=1, values_only=True)) for book in (form, ours)]
        assert [head for head in heads[0] if head] == list(heads[1])


def test_every_name_is_once_in_its_sheet_and_every_reference_is_answered(
    cast: Cast, building: Building
) -> None:
    """Two doors 1, two spaces 1 on two floors: in a workbook names are unique."""
    for floor in building.floors.all():
        space = Space.objects.create(floor=floor, number="1")
        factories.make_door(floor=floor, number="1").spaces.add(space)
    content = exported(cast, building)
    names = {
        sheet: [row["Name"] for row in sheet_of(content, sheet)]
        for sheet in ("Floor", "Space", "Type", "Component")
    }
    assert all(len(set(rows)) == len(rows) for rows in names.values())
    components = sheet_of(content, "Component")
    assert {row["TypeName"] for row in components} <= set(names["Type"])
    assert {part for row in components for part in row["Space"].split(", ")} <= set(names["Space"])
    assert {row["FloorName"] for row in sheet_of(content, "Space")} <= set(names["Floor"])
    assert {row["RowName"] for row in sheet_of(content, "Attribute")} <= set(names["Component"])
    contacts = {row["Email"] for row in sheet_of(content, "Contact")}
    assert {row["CreatedBy"] for sheet in names for row in sheet_of(content, sheet)} == contacts
    assert sorted(door.number for door in read(content).doors) == ["1", "1", "101", "102", "201"]


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-2", "@SUM(A1)", "\t=1"])
def test_no_cell_begins_a_formula(cast: Cast, building: Building, text: str) -> None:
    Door.objects.update(serial_number=text)
    book = load_workbook(io.BytesIO(exported(cast, building)))
    cells = [cell for sheet in book for row in sheet.iter_rows(min_row=2) for cell in row]
    marked = [cell for cell in cells if cell.value and str(cell.value).strip() == text.strip()]
    assert len(marked) == 3
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in marked)
    assert not any(cell.data_type == "f" for cell in cells)


class TestThePage:
    def test_an_administrator_gets_the_file_and_history_says_so(
        self, client: Client, cast: Cast, building: Building
    ) -> None:
        client.force_login(cast.administrator)
        assert b"Doors as COBie" in client.get(reverse("places:building", args=[building.pk])).content
        answer = client.post(reverse("exports:cobie", args=[building.pk]))
        assert answer.headers["Content-Disposition"] == 'attachment; filename="cobie-House.xlsx"'
        assert len(sheet_of(answer.content, "Component")) == 3
        event = Event.objects.get(verb="building.exported")
        assert (event.actor, event.sentence) == (cast.administrator, "exported 3 doors of The house as COBie")

    @pytest.mark.parametrize(("name", "status"), [("locksmith", 403), ("requester", 403), ("stranger", 404)])
    def test_nobody_else_does(
        self, client: Client, cast: Cast, building: Building, name: str, status: int
    ) -> None:
        client.force_login(getattr(cast, name))
        assert client.post(reverse("exports:cobie", args=[building.pk])).status_code == status


@pytest.mark.usefixtures("building")
class TestTheCommand:
    def test_it_writes_the_file(self, tmp_path: Path) -> None:
        file = tmp_path / "house.xlsx"
        names = ("--site", "north", "--building", "house")
        call_command("export_cobie", str(file), *names, stdout=io.StringIO())
        assert len(read(file.read_bytes()).doors) == 3

    def test_a_building_that_is_not_there_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(CommandError, match="Buildings there: House"):
            call_command("export_cobie", str(tmp_path / "x"), "--site", "NORTH", "--building", "Barn")

    def test_a_folder_that_is_not_there_is_told_and_nothing_counts_as_exported(self, tmp_path: Path) -> None:
        names = ("--site", "north", "--building", "house")
        with pytest.raises(CommandError, match="cannot be written: No such file or directory"):
            call_command("export_cobie", str(tmp_path / "none" / "x.xlsx"), *names)
        assert not Event.objects.filter(verb="building.exported").exists()


def test_levels_keep_their_order(cast: Cast, building: Building) -> None:
    bring_south(cast, exported(cast, building))
    floors = Floor.objects.filter(building__site=cast.south).order_by("level")
    assert list(floors.values_list("label", "level")) == [("Ground", 0), ("Upper", 1)]
