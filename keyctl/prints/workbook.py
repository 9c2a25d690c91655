"""Rows to a workbook, in memory: no file of the disk ever holds a bitting in the open."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.worksheet._writer import WorksheetWriter
from openpyxl.writer.excel import ExcelWriter

from keyctl.lib.language import Text
from keyctl.lib.sheets import column_letter
from keyctl.lib.spreadsheets import begins_formula

BOLD = Font(bold=True)

Value = str | int | datetime | None


@dataclass(frozen=True)
class SheetColumn:
    title: Text
    width: int


@dataclass(frozen=True)
class SheetOfRows:
    name: str
    columns: tuple[SheetColumn, ...]
    rows: Iterable[Sequence[Value]]


class _Writer(WorksheetWriter):
    """Writes to memory where the library writes to a temporary file."""

    def cleanup(self) -> None:
        """There is no file to remove."""


class _Archive(ZipFile):
    def write(self, filename: Any, arcname: Any = None, *args: Any, **kwargs: Any) -> None:
        if isinstance(filename, BytesIO):
            self.writestr(arcname, filename.getvalue())
        else:
            super().write(filename, arcname, *args, **kwargs)


def write_workbook(facts: Sequence[tuple[str, str]], sheet: SheetOfRows, mark: str) -> bytes:
    """A first sheet that says what this is, then the rows; ``mark`` stands at head and foot of each page."""
    workbook = Workbook(write_only=True)
    _about(workbook, facts, mark)
    _rows(workbook, sheet, mark)
    out = BytesIO()
    with _Archive(out, "w", ZIP_DEFLATED) as archive:
        ExcelWriter(workbook, archive).save()
    return out.getvalue()


def write_sheets(sheets: Iterable[SheetOfRows]) -> bytes:
    """Sheets as another program wants them: no cover, nothing at head and foot."""
    workbook = Workbook(write_only=True)
    for sheet in sheets:
        _rows(workbook, sheet, "")
    out = BytesIO()
    with _Archive(out, "w", ZIP_DEFLATED) as archive:
        ExcelWriter(workbook, archive).save()
    return out.getvalue()


def _about(workbook: Workbook, facts: Sequence[tuple[str, str]], mark: str) -> None:
    sheet = _new_sheet(workbook, _("About"), mark)
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 90
    _begin(sheet)
    for name, value in facts:
        sheet.append([_cell(sheet, name, bold=True), _cell(sheet, value)])


def _rows(workbook: Workbook, content: SheetOfRows, mark: str) -> None:
    sheet = _new_sheet(workbook, content.name, mark)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    for number, column in enumerate(content.columns):
        sheet.column_dimensions[column_letter(number)].width = column.width
    _begin(sheet)
    sheet.append([_cell(sheet, str(column.title), bold=True) for column in content.columns])
    for row in content.rows:
        sheet.append([_cell(sheet, value) for value in row])


def _new_sheet(workbook: Workbook, name: str, mark: str) -> Any:
    sheet = workbook.create_sheet(name)
    if not mark:
        return sheet
    # An ampersand begins a code in a header.
    sheet.oddHeader.center.text = mark.replace("&", "&&")
    sheet.oddFooter.center.text = mark.replace("&", "&&")
    sheet.oddFooter.right.text = "&P / &N"
    return sheet


def _begin(sheet: Any) -> None:
    """After the sheet's own settings, before its first row."""
    sheet._writer = _Writer(sheet, BytesIO())
    sheet._writer.write_top()


def _cell(sheet: Any, value: Value, *, bold: bool = False) -> Any:
    if isinstance(value, str):
        value = ILLEGAL_CHARACTERS_RE.sub(" ", value)
    cell = WriteOnlyCell(sheet, value)
    if isinstance(value, str):
        # Never a formula, whatever it begins with; digits keep their zeros.
        cell.data_type = "s"
        cell.number_format = "@"
        cell.quotePrefix = begins_formula(value)
    if bold:
        cell.font = BOLD
    return cell
