"""Large files of doors for benchmarks: a table as CSV, and a COBie workbook as programs write it."""

import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence

FLOORS = 50
PLAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml"
SYSTEM = "Modeller"
Row = Sequence[str]


def table(doors: int) -> bytes:
    head = "Building,Floor,Level,Number,Room,Class,Egress,Fire-rated,Locks,Spaces"
    rows = (
        f"B{number % 20},Floor {number % FLOORS},{number % FLOORS},{number},Room {number},ordinary,no,no,rim,"
        for number in range(doors)
    )
    return "\n".join((head, *rows)).encode()


def workbook(doors: int) -> bytes:
    """A door to each space and the next, with a hardware set each; every thing has its own identifier."""
    sheets = {
        "Facility": _facility(),
        "Floor": _floors(),
        "Space": _spaces(doors),
        "Component": _components(doors),
        "Attribute": _attributes(doors),
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        _frame(packed, list(sheets))
        for number, rows in enumerate(sheets.values(), 1):
            with packed.open(f"xl/worksheets/sheet{number}.xml", "w") as part:
                part.write(f"<worksheet {PLAIN}><sheetData>".encode())
                for place, row in enumerate(rows, 1):
                    part.write(_line(place, row))
                part.write(b"</sheetData></worksheet>")
    return out.getvalue()


def _guid(kind: str, number: int) -> str:
    return f"{kind}{number:021}"


def _facility() -> Iterator[Row]:
    yield "Name", "Description", "ExternalSystem", "ExternalFacilityIdentifier"
    yield "Campus", "The campus", SYSTEM, _guid("0", 0)


def _floors() -> Iterator[Row]:
    yield "Name", "CreatedBy", "CreatedOn", "Category", "ExtSystem", "ExtObject", "ExtIdentifier", "Elevation"
    for number in range(FLOORS):
        identifier = _guid("1", number)
        yield f"Floor {number}", "a", "b", "Floor", SYSTEM, "IfcBuildingStorey", identifier, str(number * 3)


def _spaces(doors: int) -> Iterator[Row]:
    yield (
        "Name",
        "CreatedBy",
        "CreatedOn",
        "Category",
        "FloorName",
        "Description",
        "ExtSystem",
        "ExtObject",
        "ExtIdentifier",
    )
    for number in range(doors):
        floor = f"Floor {number * FLOORS // doors}"
        yield f"R{number}", "a", "b", "Room", floor, f"Room {number}", SYSTEM, "IfcSpace", _guid("2", number)


def _components(doors: int) -> Iterator[Row]:
    yield (
        *("Name", "CreatedBy", "CreatedOn", "TypeName", "Space", "Description", "ExtSystem", "ExtObject"),
        *("ExtIdentifier", "SerialNumber", "InstallationDate", "WarrantyStartDate", "TagNumber", "BarCode"),
        "AssetIdentifier",
    )
    for number in range(doors):
        spaces = f"R{number}, R{(number + 1) % doors}"
        yield (
            *(
                f"Door {number}",
                "a",
                "b",
                "Door Type A",
                spaces,
                "Flush",
                SYSTEM,
                "IfcDoor",
                _guid("3", number),
            ),
            *(f"S{number}", "n/a", "n/a", f"T{number}", "n/a", "n/a"),
        )


def _attributes(doors: int) -> Iterator[Row]:
    yield "Name", "CreatedBy", "CreatedOn", "Category", "SheetName", "RowName", "Value"
    for number in range(doors):
        yield "HardwareSet", "a", "b", "As Built", "Component", f"Door {number}", str(number % 40)


def _line(place: int, row: Row) -> bytes:
    cells = "".join(
        f'<c r="{chr(65 + column)}{place}" t="inlineStr"><is><t>{text}</t></is></c>'
        for column, text in enumerate(row)
    )
    return f'<row r="{place}">{cells}</row>'.encode()


def _frame(packed: zipfile.ZipFile, names: Sequence[str]) -> None:
    """The parts by which a workbook is found in its archive (ECMA-376 part 2)."""
    numbered = list(enumerate(names, 1))
    kinds = [
        ("/xl/workbook.xml", "sheet.main"),
        *((f"/xl/worksheets/sheet{n}.xml", "worksheet") for n, _ in numbered),
    ]
    _write(
        packed,
        "[Content_Types].xml",
        f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" ContentType="application/'
        'vnd.openxmlformats-package.relationships+xml"/>',
        (f'<Override PartName="{part}" ContentType="{SHEET}.{kind}+xml"/>' for part, kind in kinds),
        "</Types>",
    )
    begin = f'<Relationships xmlns="{PACKAGE}/relationships">'
    root = f'<Relationship Id="r1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/>'
    _write(packed, "_rels/.rels", begin, [root], "</Relationships>")
    _write(
        packed,
        "xl/_rels/workbook.xml.rels",
        begin,
        (
            f'<Relationship Id="r{n}" Type="{OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>'
            for n, _ in numbered
        ),
        "</Relationships>",
    )
    _write(
        packed,
        "xl/workbook.xml",
        f'<workbook {PLAIN} xmlns:r="{OFFICE}"><sheets>',
        (f'<sheet name="{name}" sheetId="{n}" r:id="r{n}"/>' for n, name in numbered),
        "</sheets></workbook>",
    )


def _write(packed: zipfile.ZipFile, name: str, begin: str, inner: Iterable[str], end: str) -> None:
    packed.writestr(name, f'<?xml version="1.0"?>{begin}{"".join(inner)}{end}')
