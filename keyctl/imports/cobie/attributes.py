"""What the sheet Attribute says of doors: of each component, or of all components of a type."""

from typing import Final

from keyctl.imports.buildings.meaning import meant_by, value_of
from keyctl.imports.buildings.stated import Wrong
from keyctl.imports.cobie.sheets import Row, Workbook

COLUMNS: Final = ("Name", "SheetName", "RowName", "Value")
Said = dict[str, str]


class Attributes:
    def __init__(self, book: Workbook, doors: set[str], types: set[str]) -> None:
        self._book = book
        self._said: dict[tuple[str, str], Said] = {("component", name.casefold()): {} for name in doors}
        self._said |= {("type", name.casefold()): {} for name in types}
        for number, row in book.rows("Attribute", COLUMNS):
            self._take(number, row)

    def of(self, door: str, type_name: str) -> Said:
        """What is said of the door itself goes before what is said of its type."""
        by_type = self._said.get(("type", type_name.casefold()), {})
        return by_type | self._said.get(("component", door.casefold()), {})

    def _take(self, number: int, row: Row) -> None:
        said = self._said.get((row.get("SheetName", "").casefold(), row.get("RowName", "").casefold()))
        meant = meant_by(row["Name"])
        if said is None or not meant:
            return
        value, fault = value_of(meant, row.get("Value", ""))
        if value and said.setdefault(meant, value) != value:
            fault = f"A row above says “{said[meant]}” of it."
        if fault:
            self._book.faults.append(Wrong("Attribute", number, "Value", fault))
