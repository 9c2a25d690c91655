"""A sheet's XML to rows of texts, in one pass; runs in the confined child.

The library for workbooks makes several objects of each cell, and of a hand-over with millions of cells only
some columns matter. So the library opens the workbook, and its sheets are read here (ECMA-376 part 1, 18.3).
"""

from collections.abc import Container, Iterator, Sequence
from typing import IO, Any, Final, NamedTuple
from xml.parsers import expat

from keyctl.lib.marked import RefusedInside
from keyctl.lib.tables.workbooks import UNREADABLE

CHUNK: Final = 1 << 18
TEXT, FORMULA, ERROR = "text", "formula", "error"


class Cell(NamedTuple):
    text: str
    kind: str = TEXT


Line = tuple[int, dict[int, Cell]]


def lines_of(sheet: IO[bytes], strings: Sequence[Any], wanted: Container[int]) -> Iterator[Line]:
    """Each row's number and its cells that hold anything, by column from 0; only those of wanted columns."""
    parser = _Parser(strings, wanted)
    while chunk := sheet.read(CHUNK):
        yield from parser.fed(chunk)


class _Parser:
    def __init__(self, strings: Sequence[Any], wanted: Container[int]) -> None:
        self._strings, self._wanted = strings, wanted
        self._lines: list[Line] = []
        self._row, self._column, self._kind = 0, -1, ""
        self._cells: dict[int, Cell] = {}
        self._is_formula = self._is_reading = False
        # Within what tells how a word is spoken, no text of the cell stands.
        self._is_spoken = False
        self._texts: list[str] = []
        self._columns: dict[str, int] = {}
        self._parser = expat.ParserCreate(namespace_separator="}")
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._characters
        self._parser.StartDoctypeDeclHandler = _refuse

    def fed(self, chunk: bytes) -> list[Line]:
        self._parser.Parse(chunk, False)
        lines, self._lines = self._lines, []
        return lines

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name[name.rfind("}") + 1 :]
        if local == "c":
            self._begin_cell(attributes)
        elif local in {"v", "t"}:
            self._is_reading = self._column in self._wanted and not self._is_spoken
        elif local == "f":
            self._is_formula = True
        elif local == "rPh":
            self._is_spoken = True
        elif local == "row":
            self._row = int(attributes.get("r", self._row + 1))
            self._column, self._cells = -1, {}

    def _end(self, name: str) -> None:
        local = name[name.rfind("}") + 1 :]
        if local == "c":
            self._end_cell()
        elif local in {"v", "t"}:
            self._is_reading = False
        elif local == "rPh":
            self._is_spoken = False
        elif local == "row":
            self._lines.append((self._row, self._cells))

    def _characters(self, text: str) -> None:
        if self._is_reading:
            self._texts.append(text)

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        letters = attributes.get("r", "").rstrip("0123456789")
        self._column = self._place(letters) if letters else self._column + 1
        self._kind, self._is_formula = attributes.get("t", "n"), False
        self._texts = []

    def _place(self, letters: str) -> int:
        if letters not in self._columns:
            place = 0
            for letter in letters:
                place = place * 26 + ord(letter) - ord("A") + 1
            self._columns[letters] = place - 1
        return self._columns[letters]

    def _end_cell(self) -> None:
        text = "".join(self._texts)
        if self._column not in self._wanted or not (text or self._is_formula):
            return
        if self._is_formula:
            self._cells[self._column] = Cell("", FORMULA)
        elif self._kind == "e":
            self._cells[self._column] = Cell("", ERROR)
        else:
            self._cells[self._column] = Cell(self._said(text))

    def _said(self, text: str) -> str:
        if self._kind == "s":
            return str(self._strings[int(text)])
        if self._kind == "b":
            return "TRUE" if text.strip() == "1" else "FALSE"
        return _number(text) if self._kind == "n" else text


def _number(text: str) -> str:
    """
    >>> _number("101"), _number("1.0E2"), _number("3.1")
    ('101', '100', '3.1')
    """
    if text.isdigit():
        return text
    value = float(text)
    return str(int(value)) if value.is_integer() else str(value)


def _refuse(*_declared: Any) -> None:
    raise RefusedInside(UNREADABLE)
