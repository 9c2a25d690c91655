"""A COBie workbook to what it states of doors, spaces and floors; runs in the confined child.

A door is a component whose ExtObject is IfcDoor: on the word "door" closers and hold-opens come along, too.
"""

from typing import Any, Final

from keyctl.imports.buildings.meaning import facts_of, value_of
from keyctl.imports.buildings.stated import (
    Called,
    Stated,
    StatedBuilding,
    StatedDoor,
    StatedFloor,
    StatedSpace,
    Wrong,
    levels_of,
)
from keyctl.imports.cobie.attributes import Attributes, Said
from keyctl.imports.cobie.joined import joined_spaces
from keyctl.imports.cobie.sheets import Row, Workbook
from keyctl.lib.marked import RefusedInside, gettext_noop

DOORS: Final = {"ifcdoor", "ifcdoorstandardcase"}
EXTERNAL: Final = ("ExtSystem", "ExtObject", "ExtIdentifier")
FACILITY: Final = ("Name", "Description", "ExternalSystem", "ExternalFacilityIdentifier")
FLOOR: Final = ("Name", "Elevation", *EXTERNAL)
SPACE: Final = ("Name", "FloorName", "Description", *EXTERNAL)
MARKS: Final = {"serial_number": "SerialNumber", "asset_tag": "TagNumber", "bar_code": "BarCode"}
COMPONENT: Final = ("Name", "TypeName", "Space", *EXTERNAL, *MARKS.values())
# What is left out where a row of the sheet is at fault.
THINGS: Final = {"Floor": "floors", "Space": "spaces", "Component": "doors"}
# A floor and spaces, by their places in the lists.
Where = tuple[int, tuple[int, ...]]
LONGEST_NUMBER: Final = 30
LONGEST_PLACE: Final = 40
LONGEST_NAME: Final = 120


def read(content: bytes) -> Stated:
    book = Workbook(content)
    if "Component" not in book:
        raise RefusedInside(
            gettext_noop(
                "The workbook has no sheet Component, so it is no COBie workbook."
                " Save the hand-over as COBie (.xlsx)."
            )
        )
    return _Reading(book).everything()


def read_packed(content: bytes) -> tuple[Any, ...]:
    return read(content).packed()


class _Reading:
    def __init__(self, book: Workbook) -> None:
        self.book = book
        self.faults = book.faults
        self.floors: dict[str, int] = {}
        self.spaces: dict[str, int] = {}
        self.seen: dict[Called, tuple[str, int]] = {}

    def everything(self) -> Stated:
        building = self._building()
        floors = self._floors()
        spaces = self._spaces()
        rows = [
            (number, row)
            for number, row in self.book.rows("Component", COMPONENT)
            if row.get("ExtObject", "").casefold() in DOORS
        ]
        attributes = Attributes(
            self.book, {row["Name"] for _, row in rows}, {row.get("TypeName", "") for _, row in rows}
        )
        floor_of = [space.floor for space in spaces]
        doors = self._doors(rows, floor_of, attributes)
        faults = tuple(sorted(self.faults, key=lambda fault: (fault.sheet, fault.row)))
        return Stated(building, tuple(floors), tuple(spaces), tuple(doors), faults, len(rows))

    def _building(self) -> StatedBuilding | None:
        found = list(self.book.rows("Facility", FACILITY))
        for number, _ in found[1:]:
            self._fault(
                "Facility", number, "Name", "A workbook hands over one building; this row is left out."
            )
        if not found:
            return None
        number, row = found[0]
        called = Called(row.get("ExternalFacilityIdentifier", ""), row.get("ExternalSystem", ""))
        return StatedBuilding(number, called, _short(row["Name"]), _short(row.get("Description", "")))

    def _floors(self) -> list[StatedFloor]:
        rows = list(self.book.rows("Floor", FLOOR))
        levels = levels_of([self._height(number, row) for number, row in rows])
        floors: list[StatedFloor] = []
        for (number, row), level in zip(rows, levels, strict=True):
            if self._is_taken("Floor", number, row, self.floors, LONGEST_PLACE):
                self.floors[row["Name"].casefold()] = len(floors)
                floors.append(StatedFloor(number, _called(row), row["Name"], level))
        return floors

    def _height(self, number: int, row: Row) -> float | None:
        try:
            return float(row["Elevation"]) if row.get("Elevation") else None
        except ValueError:
            message = f"“{row['Elevation']}” is no number, so the floor's level is a guess."
            self.faults.append(Wrong("Floor", number, "Elevation", message))
            return None

    def _spaces(self) -> list[StatedSpace]:
        spaces: list[StatedSpace] = []
        for number, row in self.book.rows("Space", SPACE):
            floor = self.floors.get(row.get("FloorName", "").casefold())
            if floor is None:
                self._fault(
                    "Space", number, "FloorName", f"The sheet Floor has no “{row.get('FloorName', '')}”."
                )
            elif self._is_taken("Space", number, row, self.spaces, LONGEST_PLACE):
                self.spaces[row["Name"].casefold()] = len(spaces)
                name = _short(row.get("Description", ""))
                spaces.append(StatedSpace(number, _called(row), row["Name"], name, floor))
        return spaces

    def _doors(
        self, rows: list[tuple[int, Row]], floor_of: list[int], attributes: Attributes
    ) -> list[StatedDoor]:
        names: dict[str, int] = {}
        doors: list[StatedDoor] = []
        for number, row in rows:
            said = attributes.of(row["Name"], row.get("TypeName", ""))
            shown = said.get("number") or number_of(row["Name"])
            where = self._where(number, row, floor_of)
            if len(shown) > LONGEST_NUMBER:
                self._fault(
                    "Component", number, "Name", f"A door's number has {LONGEST_NUMBER} signs at most."
                )
            elif where and self._is_taken("Component", number, row, names, LONGEST_NAME):
                names[row["Name"].casefold()] = number
                doors.append(_door(number, row, shown, where, said))
        return doors

    def _where(self, number: int, row: Row, floor_of: list[int]) -> Where | None:
        """The floor, which is the first space's, and the spaces; an outer door may name its floor alone."""
        text = row.get("Space", "")
        if text.casefold() in self.floors and text.casefold() not in self.spaces:
            return self.floors[text.casefold()], ()
        known, unknown = joined_spaces(text, self.spaces)
        for name in unknown:
            self._fault("Component", number, "Space", f"The sheet Space has no “{name}”.")
        if known:
            return floor_of[known[0]], tuple(known)
        if not unknown:
            self._fault("Component", number, "Space", "The door names no space, so its floor is not known.")
        return None

    def _is_taken(self, sheet: str, number: int, row: Row, names: dict[str, int], longest: int) -> bool:
        """Whether the row stands for a thing of its own, with a name that can be kept."""
        called = _called(row)
        if row["Name"].casefold() in names:
            self._fault(sheet, number, "Name", f"A row above is called “{row['Name']}”, too.")
            return False
        if len(row["Name"]) > longest:
            self._fault(sheet, number, "Name", f"A name has {longest} signs at most here.")
            return False
        if called.value and (twin := self.seen.setdefault(called, (sheet, number))) != (sheet, number):
            message = f"{twin[0]}, row {twin[1]} has the same identifier."
            self._fault(sheet, number, "ExtIdentifier", message)
            return False
        return True

    def _fault(self, sheet: str, number: int, column: str, message: str) -> None:
        self.faults.append(Wrong(sheet, number, column, message, THINGS.get(sheet, "")))


def number_of(name: str) -> str:
    """What stands on the door, without the word that says what it is.

    >>> number_of("Door 1A03"), number_of("DOOR: 12"), number_of("Door"), number_of("Doorway 3")
    ('1A03', '12', 'Door', 'Doorway 3')
    """
    word, rest = name[:4], name[4:]
    shown = rest.lstrip(" :#-_.")
    return shown if word.casefold() == "door" and shown and rest != shown else name


def _door(number: int, row: Row, shown: str, where: Where, said: Said) -> StatedDoor:
    marks = {fact: value_of(fact, row.get(column, ""))[0] for fact, column in MARKS.items()}
    facts = facts_of(said | {fact: text for fact, text in marks.items() if text})
    return StatedDoor(number, _called(row), row["Name"], shown, *where, facts)


def _called(row: Row) -> Called:
    return Called(row.get("ExtIdentifier", ""), row.get("ExtSystem", ""))


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1] + "…"
