"""Files that people send, and files that somebody means badly."""

import io
import zipfile
from datetime import date
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED

import pytest

from keyctl.inherited.columns import guess_columns, shown_headings
from keyctl.lib.errors import Refused
from keyctl.lib.sheets import LARGEST_FILE, MOST_COLUMNS, MOST_ROWS, Cell, Sheet, read_sheet
from tests.keyctl.inherited.lists import HEADER, ROWS, as_csv, as_workbook


def texts(sheet: Sheet) -> list[list[str]]:
    return [[cell.text for cell in cells] for _, cells in sheet.rows]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_csv_file_is_read_whatever_parts_its_columns(delimiter: str) -> None:
    sheet = read_sheet(as_csv([HEADER, *ROWS], delimiter))
    assert texts(sheet)[0] == HEADER
    assert texts(sheet)[1] == ["AA", "361492", "", "master"]
    assert [number for number, _ in sheet.rows] == [1, 2, 3, 4, 5, 6]


def test_a_workbook_reads_the_same() -> None:
    assert texts(read_sheet(as_workbook([HEADER, *ROWS]))) == texts(read_sheet(as_csv([HEADER, *ROWS])))


def test_empty_rows_keep_the_numbers_of_the_others() -> None:
    sheet = read_sheet(b"a,b\n\n,,\nc,d\n")
    assert [number for number, _ in sheet.rows] == [1, 4]


def test_a_file_in_an_old_encoding_is_read() -> None:
    assert texts(read_sheet("Tür,361492\n".encode("cp1252"))) == [["Tür", "361492"]]


def kinds(*values: Any) -> list[str]:
    return [cell.kind for cell in read_sheet(as_workbook([["x", *values]])).rows[0][1][1:]]


def test_numbers_dates_and_formulas_are_told_apart() -> None:
    assert kinds("061492", 61492, 6.5, "=B1", date(2026, 1, 2)) == [
        "text",
        "number",
        "number",
        "formula",
        "date",
    ]
    [(_, cells)] = read_sheet(as_workbook([["x", 61492, 61492.0, "=1+1"]])).rows
    assert [cell.text for cell in cells] == ["x", "61492", "61492", "="]
    [(_, cells)] = read_sheet(b'x,="061492"').rows
    assert cells[1].kind == "formula"


def test_a_cell_shows_nothing_when_it_is_printed_by_accident() -> None:
    assert "361492" not in repr(Cell("361492"))


def packed(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(name, content)
    return out.getvalue()


def with_part(name: str, content: bytes, packing: int = ZIP_STORED) -> bytes:
    out = io.BytesIO()
    sound = zipfile.ZipFile(io.BytesIO(as_workbook([HEADER])))
    with sound, zipfile.ZipFile(out, "w", packing) as book:
        for part in sound.namelist():
            book.writestr(part, content if part == name else sound.read(part))
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><x>&b;</x>'
OUTSIDE = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]><x>&a;</x>'


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "nothing in this file"),
        (b",,\n,,\n", "nothing in this file"),
        (b"x" * (LARGEST_FILE + 1), "larger than 5 MB"),
        (b"a\n" * (MOST_ROWS + 1), "more than 30,000 rows"),
        (b"a," * (MOST_COLUMNS + 1) + b"b", "more than 40 columns"),
        (b"a" * 300, "more than 200 signs"),
        (b'"open', "quotation mark"),
        (b"\x89PNG\0\0", "neither a CSV file nor a workbook"),
        (b"PK\x03\x04 broken", "cannot be unpacked"),
        (packed(a=b"no workbook"), "cannot be read"),
        (packed(bomb=b"0" * 70_000_000), "far larger than a list"),
        (packed(**{f"p{n}": b"" for n in range(600)}), "too many parts"),
        (with_part(SHEET, LAUGHS), "declares things of its own"),
        (with_part(SHEET, OUTSIDE), "declares things of its own"),
        (with_part(SHEET, LAUGHS.decode().encode("utf-16")), "declares things of its own"),
        (with_part(SHEET, b"<worksheet>"), "cannot be read"),
        (with_part(SHEET, b"<worksheet><sheetData>" + b"<row/>" * 1_500_000, ZIP_DEFLATED), "far larger"),
        (b"a\n" + b"," * 4_000_000 + b"b", "more than 40 columns"),
    ],
)
def test_a_file_that_is_no_list_is_refused_with_the_reason(content: bytes, words: str) -> None:
    with pytest.raises(Refused) as refused:
        read_sheet(content)
    assert words in refused.value.message


def test_empty_columns_to_the_right_are_left_out() -> None:
    assert read_sheet(b"a,b" + b"," * 100).width == 2


def sheet_of(*rows: list[str]) -> Sheet:
    return read_sheet(as_csv(rows))


def test_headings_are_known_by_their_words() -> None:
    guess = guess_columns(sheet_of(["Door", "Key Set", "Cuts"], ["1", "AA", "361492"]), 6, {})
    assert (guess.columns, guess.has_header) == ({"core": 0, "symbol": 1, "bitting": 2}, True)


def test_the_words_a_site_used_last_come_first() -> None:
    sheet = sheet_of(["Name", "Key", "Profile"], ["North", "AA", "361492"])
    assert guess_columns(sheet, 6, {}).columns["symbol"] == 1
    assert guess_columns(sheet, 6, {"symbol": "name", "bitting": "profile"}).columns == {
        "symbol": 0,
        "bitting": 2,
    }


def test_without_headings_the_cuts_tell_and_are_never_shown() -> None:
    sheet = sheet_of(["AA", "361492"], ["1AA", "583614"])
    guess = guess_columns(sheet, 6, {})
    assert (guess.columns, guess.has_header) == ({"bitting": 1, "symbol": 0}, False)
    assert shown_headings(sheet, guess.has_header) == ["A", "B"]
