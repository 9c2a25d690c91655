"""No text becomes a formula in any file that is written for a spreadsheet.

Read back by three readers that share nothing with the writers: a reader of RFC 4180 written here from its
grammar, the XML of the workbook as it lies in the archive, and openpyxl.
"""

import ast
import csv
import io
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest
from openpyxl import load_workbook

from keyctl.charts.sheets import EXAMPLE, example_csv
from keyctl.inherited.services.work import _tags
from keyctl.lib.spreadsheets import as_csv
from keyctl.prints.workbook import SheetColumn, SheetOfRows, write_workbook
from tests.hostile.payloads import FORMULAS, MUST_CHANGE

KEYCTL = Path(__file__).parents[2] / "keyctl"
SHEET_XML = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
DANGEROUS = set("=+-@|\t\r\n＝＋－＠｜")
UNSEEN = "\u00a0\u200b\u200c\u200d\u200e\u200f\u2060\ufeff "


def read_rfc_4180(text: str) -> Iterator[list[str]]:
    """By its grammar: fields parted by commas, records by CRLF, a quoted field with doubled quotes in it."""
    record, field, at = [], "", 0
    while at < len(text):
        if text[at] == '"':
            end = at + 1
            while text[end] != '"' or text[end : end + 2] == '""':
                end += 2 if text[end] == '"' else 1
            field, at = text[at + 1 : end].replace('""', '"'), end + 1
        else:
            end = min(place for place in (text.find(",", at), text.find("\r\n", at), len(text)) if place >= 0)
            field, at = text[at:end], end
            assert '"' not in field
            assert "\n" not in field
        record.append(field)
        if text[at : at + 2] == "\r\n":
            yield record
            record = []
            at += 2
        else:
            assert text[at] == ","
            at += 1


def is_inert(text: str) -> bool:
    return not text.lstrip(UNSEEN)[:1] or text.lstrip(UNSEEN)[0] not in DANGEROUS


EXPORTERS: dict[str, Callable[[list[str]], bytes]] = {
    "as_csv": lambda texts: as_csv([["Name", "More"], *([text, text] for text in texts)]),
    "tags of an inherited list": lambda texts: _tags([(text, "TAG") for text in texts]),
}


@pytest.mark.parametrize("name", EXPORTERS)
def test_no_cell_of_a_list_begins_a_formula(name: str) -> None:
    texts = [text.replace("\x00", "") for text in FORMULAS]
    content = EXPORTERS[name](texts)
    assert content.startswith(b"\xef\xbb\xbf")
    _, *rows = read_rfc_4180(content.decode("utf-8-sig"))
    assert [row[0].removeprefix("'") for row in rows] == [text.removeprefix("'") for text in texts]
    assert [row for row in rows if not all(is_inert(cell) for cell in row)] == []
    assert list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))[1:] == rows
    assert len(MUST_CHANGE) >= 40
    kept = {row[0] for row in rows}
    assert kept.isdisjoint(text.replace("\x00", "") for text in MUST_CHANGE)


def test_the_example_of_a_chart_reads_as_it_was_meant() -> None:
    assert list(read_rfc_4180(example_csv().decode("utf-8-sig"))) == [list(row) for row in EXAMPLE]


def workbook_of(texts: list[str]) -> bytes:
    columns = (SheetColumn("Name", 20), SheetColumn("=1+1", 20))
    rows = [(text, text) for text in texts]
    return write_workbook([("=1+1", "@A1"), *rows], SheetOfRows("Rows", columns, rows), "=1+1 &P")


def test_no_cell_of_a_workbook_is_a_formula() -> None:
    """Typed as text, told so to whoever edits it, and read back as it was."""
    book = load_workbook(io.BytesIO(workbook_of(list(FORMULAS))))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} == {"s"}
    dangerous = [cell for cell in cells if not is_inert(str(cell.value))]
    assert len(dangerous) > 100
    assert all(cell.quotePrefix and cell.number_format == "@" for cell in dangerous)
    told = {str(cell.value).replace("\r\n", "\n").replace("\r", "\n") for cell in cells}
    plain = {text for text in FORMULAS if text.isprintable()}
    assert plain <= told


def test_the_xml_of_a_workbook_holds_no_formula_and_names_nothing_outside() -> None:
    with zipfile.ZipFile(io.BytesIO(workbook_of(list(FORMULAS)))) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    assert not [name for name in parts if "external" in name.lower() or "macro" in name.lower()]
    for name, content in parts.items():
        root = ElementTree.fromstring(content)  # noqa: S314 (written a moment ago)
        assert not list(root.iter(f"{SHEET_XML}f")), name
        assert not [each for each in root.iter() if each.get("TargetMode") == "External"]
        kinds = {cell.get("t") for cell in root.iter(f"{SHEET_XML}c")}
        assert kinds <= {"s", "inlineStr", None}


WRITERS = {"lib/spreadsheets.py", "prints/workbook.py"}
READERS = {"lib/tables/delimited.py", "lib/tables/workbooks.py", "imports/cobie/sheets.py"}


def test_no_other_module_writes_for_a_spreadsheet() -> None:
    """Whoever imports the libraries is known; whoever hands out CSV makes it by the one writer."""
    found, tellers = set(), set()
    for file in KEYCTL.rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        name = file.relative_to(KEYCTL).as_posix()
        if _imported(text) & {"csv", "openpyxl", "pandas", "xlsxwriter"}:
            found.add(name)
        if "text/csv" in text or '.csv"' in text:
            tellers.add(name)
    assert found == WRITERS | READERS
    handed_out = {"charts/views.py", "inherited/services/work.py", "exports/taking.py", "imports/views.py"}
    assert tellers == handed_out | (tellers & FORMS)


# These only name what a browser's dialogue offers.
FORMS = {
    "charts/forms.py",
    "directory/forms.py",
    "inherited/forms/lists.py",
    "imports/forms.py",
    "imports/urls.py",
}


def _imported(text: str) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names
