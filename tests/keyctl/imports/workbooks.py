"""Small COBie workbooks, made by the library that spreadsheets of such programs are read with."""

import io
from collections.abc import Mapping, Sequence
from typing import Any

from openpyxl import Workbook, load_workbook

EXTERNAL = ("ExtSystem", "ExtObject", "ExtIdentifier")
HEADS: Mapping[str, Sequence[str]] = {
    "Facility": ("Name", "Description", "ExternalSystem", "ExternalFacilityIdentifier"),
    "Floor": ("Name", "Elevation", *EXTERNAL),
    "Space": ("Name", "FloorName", "Description", *EXTERNAL),
    "Component": (
        "Name",
        "TypeName",
        "Space",
        *EXTERNAL,
        "SerialNumber",
        "TagNumber",
        "BarCode",
    ),
    "Attribute": ("Name", "SheetName", "RowName", "Value"),
}
SYSTEM = "Modeller"
HOUSE: Mapping[str, Sequence[Sequence[Any]]] = {
    "Facility": [("House", "The house", SYSTEM, "0fac0000000000000000aa")],
    "Floor": [
        ("Ground", 0, SYSTEM, "IfcBuildingStorey", "1flo0000000000000000aa"),
        ("Upper", 3.1, SYSTEM, "IfcBuildingStorey", "1flo0000000000000000ab"),
    ],
    "Space": [
        ("101", "Ground", "Office", SYSTEM, "IfcSpace", "2spa0000000000000000aa"),
        ("102", "Ground", "Hall", SYSTEM, "IfcSpace", "2spa0000000000000000ab"),
        ("201", "Upper", "Loft", SYSTEM, "IfcSpace", "2spa0000000000000000ac"),
    ],
    "Component": [
        ("Door 101", "Plain", "101, 102", SYSTEM, "IfcDoor", "3doo0000000000000000aa", "S-1", "T-1", "B-1"),
        ("Door 102", "Plain", "102", SYSTEM, "IfcDoor", "3doo0000000000000000ab", "S-2", "n/a", ""),
        ("Door 201", "Heavy ", "201", SYSTEM, "IfcDoor", "3doo0000000000000000ac", "S-3", "N/A", "n/a"),
        (
            "Door closer 1",
            "Closer",
            "101",
            SYSTEM,
            "IfcDiscreteAccessory",
            "3clo0000000000000000aa",
            "",
            "",
            "",
        ),
    ],
    "Attribute": [
        ("HardwareSet", "Component", "Door 101", 12),
        ("Fire Rating", "Type", "Heavy", "60 min"),
        ("FireExit", "Component", "Door 102", "TRUE"),
    ],
}
Rows = dict[str, list[list[Any]]]


def house() -> Rows:
    """The house's rows, to be changed by a test."""
    return {sheet: [list(row) for row in rows] for sheet, rows in HOUSE.items()}


def cobie(
    rows: Mapping[str, Sequence[Sequence[Any]]],
    *,
    without: str = "",
    renamed: Mapping[str, str] | None = None,
) -> bytes:
    """``renamed`` are columns that this file heads otherwise."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet, head in HEADS.items():
        if sheet != without:
            made = book.create_sheet(sheet)
            made.append([(renamed or {}).get(title, title) for title in head])
            for row in rows[sheet]:
                made.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def sheet_of(content: bytes, name: str) -> list[dict[str, str]]:
    """A sheet's rows by its headings, as another reader of workbooks sees them."""
    head, *rows = load_workbook(io.BytesIO(content), read_only=True)[name].iter_rows(values_only=True)
    return [{str(title): str(value) for title, value in zip(head, row, strict=True)} for row in rows]
