"""What a COBie workbook states: doors, what they join, and every fault by its cell."""

from collections.abc import Callable
from typing import Any

import pytest

from keyctl.imports.cobie.kind import read_cobie
from keyctl.imports.cobie.reading import read
from keyctl.lib.errors import Refused
from tests.keyctl.imports.workbooks import Rows, cobie, house


def test_a_door_is_what_the_model_calls_one_whatever_its_name() -> None:
    rows = house()
    rows["Component"][1][0] = "Gate"
    stated = read(cobie(rows))
    assert [door.number for door in stated.doors] == ["101", "Gate", "201"]


def test_blanks_around_texts_are_none_and_n_a_is_nothing() -> None:
    rows = house()
    rows["Component"][0][0] = " Door 101  "
    rows["Space"][0][0] = "101 "
    doors = read(cobie(rows)).doors
    assert doors[0].name == "Door 101"
    assert doors[0].facts == ("12", "", "", "S-1", "T-1", "B-1")
    assert doors[1].facts == ("", "", "fire exit", "S-2", "", "")
    assert doors[2].facts == ("", "60 min", "", "S-3", "", "")


@pytest.mark.parametrize(
    "text", ["101, 102", "101,102", "101;102", "101 ; 102", "101:102", "101 / 102", "101\n102"]
)
def test_two_spaces_are_joined_by_whatever_the_file_uses(text: str) -> None:
    rows = house()
    rows["Component"][0][2] = text
    assert read(cobie(rows)).doors[0].spaces == (0, 1)


def test_a_space_may_have_a_separator_in_its_name() -> None:
    rows = house()
    rows["Space"][0][0] = "101/A"
    rows["Component"][0][2] = "101/A, 102"
    assert read(cobie(rows)).doors[0].spaces == (0, 1)


def test_an_outer_door_may_name_its_floor_alone() -> None:
    rows = house()
    rows["Component"][1][2] = "Upper"
    door = read(cobie(rows)).doors[1]
    assert (door.floor, door.spaces) == (1, ())


def test_columns_that_are_written_out_are_known() -> None:
    """As older workbooks head them."""
    written_out = {f"Ext{word}": f"External{word}" for word in ("System", "Object", "Identifier")}
    assert read(cobie(house(), renamed=written_out)) == read(cobie(house()))


def change(sheet: str, row: int, column: int, value: Any) -> Callable[[Rows], None]:
    def changed(rows: Rows) -> None:
        rows[sheet][row - 2][column] = value

    return changed


@pytest.mark.parametrize(
    ("wrong", "place", "words"),
    [
        (change("Component", 2, 2, "101, 999"), ("Component", 2, "Space"), "no “999”"),
        (change("Component", 3, 2, "n/a"), ("Component", 3, "Space"), "names no space"),
        (change("Component", 3, 2, "=A1"), ("Component", 3, "Space"), "A formula"),
        (change("Component", 3, 0, "door 101"), ("Component", 3, "Name"), "A row above"),
        (change("Component", 3, 0, "Door " + "1" * 31), ("Component", 3, "Name"), "30 signs"),
        (change("Component", 3, 5, "3doo0000000000000000aa"), ("Component", 3, "ExtIdentifier"), "row 2"),
        (change("Space", 4, 1, "Attic"), ("Space", 4, "FloorName"), "no “Attic”"),
        (change("Space", 4, 0, "101"), ("Space", 4, "Name"), "A row above"),
        (change("Floor", 3, 1, "high"), ("Floor", 3, "Elevation"), "no number"),
        (change("Attribute", 4, 3, "perhaps"), ("Attribute", 4, "Value"), "neither yes nor no"),
        (change("Attribute", 2, 3, "x" * 61), ("Attribute", 2, "Value"), "60 signs"),
        (change("Component", 4, 6, "x" * 256), ("Component", 4, "SerialNumber"), "255 signs"),
    ],
)
def test_every_fault_has_its_cell_and_a_sentence(
    wrong: Callable[[Rows], None], place: tuple[str, int, str], words: str
) -> None:
    rows = house()
    wrong(rows)
    faults = read(cobie(rows)).faults
    assert True in [words in fault.message for fault in faults if fault[:3] == place]


def test_a_faulty_door_is_left_out_and_the_others_are_not() -> None:
    rows = house()
    rows["Component"][1][2] = "999"
    stated = read(cobie(rows))
    assert [door.number for door in stated.doors] == ["101", "201"]
    assert (stated.doors_read, stated.faults[0].thing) == (3, "doors")


def test_a_column_that_is_not_there_is_told() -> None:
    stated = read(cobie(house(), renamed={"Name": "Nom"}))
    assert ("Component", 1, "Name") in [fault[:3] for fault in stated.faults]
    assert stated.doors == ()


def test_the_confined_reader_states_the_same() -> None:
    content = cobie(house())
    confined, here = read_cobie(content), read(content)
    assert confined._replace(doors=tuple(confined.doors)) == here
    assert [confined.doors[place] for place in range(3)] == list(confined.doors[:3]) == list(here.doors)


def test_what_is_no_such_workbook_is_refused() -> None:
    with pytest.raises(Refused, match="no sheet Component"):
        read(cobie(house(), without="Component"))
    with pytest.raises(Refused, match="unpacked"):
        read(b"PK\x03\x04broken")
