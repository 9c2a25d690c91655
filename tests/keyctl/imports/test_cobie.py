"""Buildings from workbooks: taken once, found again, and never made twice.

The house is the tests' own; open models are in `test_open_models.py`.
"""

import pytest

from keyctl.imports.cobie import kind
from keyctl.imports.cobie.reading import read
from keyctl.imports.models import Change, Import, ImportFault
from keyctl.lib.confined import Bounds
from keyctl.lib.errors import Refused
from keyctl.places.models import Building, Door, Floor, Identifier, Space
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.imports.files import taken, tried, undone
from tests.keyctl.imports.workbooks import Rows, cobie, house

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Small workbooks are read in this process; a child for each would take most of the time."""
    monkeypatch.setattr(kind, "read_cobie", read)


def take(cast: Cast, rows: Rows) -> Import:
    return taken(cast.administrator, cast.north, kind="cobie", content=cobie(rows))


def look(cast: Cast, rows: Rows) -> Import:
    """A dry run alone."""
    return tried(cast.administrator, cast.north, kind="cobie", content=cobie(rows))


def doors_of(imported: Import) -> dict[str, int]:
    counts = dict(imported.counts["things"]["doors"])
    return {name: counts[name] for name in ("created", "updated", "unchanged")}


def by_identifier() -> dict[str, Door]:
    rows = Identifier.objects.filter(kind="door").select_related("door")
    return {row.value: row.door for row in rows if row.door}


def warnings(imported: Import) -> list[str]:
    return list(
        ImportFault.objects.filter(imported=imported, is_error=False).values_list("message", flat=True)
    )


def test_what_the_house_says_of_its_doors(cast: Cast) -> None:
    take(cast, house())
    door = by_identifier()["3doo0000000000000000aa"]
    assert (door.number, door.name, door.hardware_set, door.serial_number) == ("101", "Office", "12", "S-1")
    assert (door.asset_tag, door.bar_code) == ("T-1", "B-1")
    assert list(door.spaces.order_by("number").values_list("number", flat=True)) == ["101", "102"]
    assert door.floor.label == "Ground"


def test_a_stated_rating_or_exit_marks_no_door_by_itself(cast: Cast) -> None:
    take(cast, house())
    found = by_identifier()
    rated, leads_out = found["3doo0000000000000000ac"], found["3doo0000000000000000ab"]
    assert (rated.fire_rating, rated.is_fire_rated) == ("60 min", False)
    assert (leads_out.stated_use, leads_out.is_egress) == ("fire exit", False)


def test_a_second_run_finds_nothing_to_do(cast: Cast) -> None:
    take(cast, house())
    again = look(cast, house())
    assert doors_of(again) == {"created": 0, "updated": 0, "unchanged": 3}
    assert not Change.objects.filter(imported=again).exists()


def test_what_the_file_says_anew_is_updated(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Attribute"][0][3] = 13
    rows["Component"][1][2] = "102; 101"
    assert doors_of(take(cast, rows)) == {"created": 0, "updated": 2, "unchanged": 1}
    assert by_identifier()["3doo0000000000000000aa"].hardware_set == "13"
    assert by_identifier()["3doo0000000000000000ab"].spaces.count() == 2


def test_a_door_that_the_file_renames_is_the_same_door(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Component"][1][0] = "Door 102A"
    rows["Attribute"][2][2] = "Door 102A"
    assert doors_of(take(cast, rows)) == {"created": 0, "updated": 1, "unchanged": 2}
    assert by_identifier()["3doo0000000000000000ab"].number == "102A"


def test_a_number_that_people_corrected_stays(cast: Cast) -> None:
    take(cast, house())
    Door.objects.filter(number="102").update(number="102 left")
    assert doors_of(look(cast, house()))["updated"] == 0
    assert by_identifier()["3doo0000000000000000ab"].number == "102 left"


def test_what_the_file_leaves_empty_stays(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Attribute"] = []
    rows["Component"][0][6] = "n/a"
    assert doors_of(look(cast, rows))["updated"] == 0
    assert by_identifier()["3doo0000000000000000aa"].serial_number == "S-1"


def by_hand(cast: Cast, number: str) -> Door:
    building = Building.objects.create(site=cast.north, code="House", name="The house")
    floor = Floor.objects.create(building=building, label="ground", level=0)
    return factories.make_door(floor=floor, number=number, name="Reception")


@pytest.mark.parametrize("number", ["102", "Door 102"])
def test_a_door_written_by_hand_is_found_by_its_number_and_that_is_shown(cast: Cast, number: str) -> None:
    door = by_hand(cast, number)
    imported = look(cast, house())
    assert doors_of(imported) == {"created": 2, "updated": 1, "unchanged": 0}
    assert warnings(imported) == [
        "The identifier is not on record: the door is matched by its floor and number."
    ]
    take(cast, house())
    door.refresh_from_db()
    assert (door.serial_number, door.name, door.number) == ("S-2", "Reception", number)
    assert by_identifier()["3doo0000000000000000ab"] == door
    assert (Door.objects.count(), Building.objects.count(), Floor.objects.count()) == (3, 1, 2)


def test_a_door_that_another_row_names_is_not_taken_for_one_of_its_number(cast: Cast) -> None:
    """The door with the first identifier is now called 103, and another one is called 101."""
    take(cast, house())
    rows = house()
    rows["Component"][0][0] = "Door 103"
    rows["Component"].append(
        ["Door 101", "", "101", "Modeller", "IfcDoor", "3doo0000000000000000ad", "", "", ""]
    )
    old = by_identifier()["3doo0000000000000000aa"]
    take(cast, rows)
    take(cast, rows)
    found = by_identifier()
    assert (found["3doo0000000000000000aa"].pk, found["3doo0000000000000000aa"].number) == (old.pk, "103")
    assert found["3doo0000000000000000ad"].number == "101"
    assert Door.objects.count() == 4


def test_numbers_that_change_places_are_left_and_told(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Component"][0][0], rows["Component"][1][0] = "Door 102", "Door 101"
    imported = take(cast, rows)
    assert sum("stays as it is numbered" in words for words in warnings(imported)) == 2
    assert by_identifier()["3doo0000000000000000aa"].number == "101"


def test_what_is_gone_from_the_file_is_told_and_stays(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    del rows["Component"][1], rows["Attribute"][2]
    imported = look(cast, rows)
    assert [words for words in warnings(imported) if "not in this file" in words] == [
        "The door 102 (3doo0000000000000000ab) is on record and not in this file. It stays as it is."
    ]
    assert Door.objects.count() == 3


def test_undone_it_leaves_nothing(cast: Cast) -> None:
    undone(cast.administrator, take(cast, house()))
    for model in (Building, Floor, Space, Door, Identifier):
        assert not model.objects.exists()


def test_an_undone_update_leaves_what_was_before(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Attribute"][0][3] = 13
    rows["Component"][0][2] = "101"
    undone(cast.administrator, take(cast, rows))
    door = by_identifier()["3doo0000000000000000aa"]
    assert (door.hardware_set, door.spaces.count(), Door.objects.count()) == ("12", 2, 3)


def test_another_sites_identifiers_are_its_own(cast: Cast) -> None:
    take(cast, house())
    elsewhere = factories.make_user("elsewhere", site=cast.south, role=Role.ADMINISTRATOR)
    taken(elsewhere, cast.south, kind="cobie", content=cobie(house()))
    assert Door.objects.count() == 6


def test_two_buildings_of_one_name_have_codes_of_their_own(cast: Cast) -> None:
    take(cast, house())
    rows = house()
    rows["Facility"][0] = ["House of another name", "", "Modeller", "0fac0000000000000000ab"]
    for sheet, column in (("Floor", 4), ("Space", 5), ("Component", 5)):
        for row in rows[sheet]:
            row[column] = row[column][:-2] + "z" + row[column][-1]
    take(cast, rows)
    assert list(Building.objects.order_by("code").values_list("code", flat=True)) == ["House", "House of ano"]
    assert Door.objects.count() == 6


def test_a_workbook_that_takes_too_much_is_refused(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    monkeypatch.undo()
    monkeypatch.setattr(kind, "BOUNDS", Bounds(memory=16 * 1024 * 1024))
    with pytest.raises(Refused, match="more time or memory"):
        kind.read_cobie(cobie(house()))
