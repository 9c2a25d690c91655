"""The rows of a table as its columns say them, with what is wrong with single cells."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TypeVar

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.imports.kinds import Fault, Field, Given, kind_of
from keyctl.lib.language import Text
from keyctl.lib.sheets import EMPTY_CELL, Cell
from keyctl.lib.spreadsheets import as_written
from keyctl.lib.tags import clean_tag

Item = TypeVar("Item")
AT_ONCE = 500
YES = frozenset({"yes", "y", "true", "1", "x"})
NO = frozenset({"no", "n", "false", "0"})
UNREAD = {
    "formula": gettext_lazy(
        "The cell holds a formula, which is not calculated here. Paste the value itself."
    ),
    "date": gettext_lazy(
        "The spreadsheet made a date of this. Format the column as text, type it anew, and bring the "
        "file in again."
    ),
    "error": gettext_lazy("The cell holds an error of the spreadsheet. Correct it there."),
}
SITE = Field("site", gettext_lazy("Site"), ("site code", "campus"))
OTHER_SITE = gettext_lazy("The row is of another site. Bring it in there; here it is left out.")


@dataclass
class TableRow:
    """One row; what is wrong with it gathers in ``faults`` as its cells are read."""

    number: int
    thing: str
    cells: Mapping[str, Cell] = field(repr=False)
    headings: Mapping[str, str] = field(repr=False)
    faults: list[Fault] = field(default_factory=list)

    @property
    def is_sound(self) -> bool:
        return not any(fault.is_error for fault in self.faults)

    def says(self, name: str) -> bool:
        """Whether anything stands there; an empty cell says nothing."""
        return not self.cells.get(name, EMPTY_CELL).is_empty

    def fault(self, name: str, message: Text, *, is_error: bool = True) -> None:
        column = self.headings.get(name, "")
        thing = self.thing if is_error else ""
        self.faults.append(Fault(message, row=self.number, column=column, is_error=is_error, thing=thing))

    def text(self, name: str, longest: int) -> str:
        text = " ".join(self.cells.get(name, EMPTY_CELL).text.split())
        if len(text) > longest:
            self.fault(name, _("More than {longest} signs stand here. Shorten it.").format(longest=longest))
            return ""
        return text

    def needed(self, name: str, longest: int, what: str) -> str:
        text = self.text(name, longest)
        if not self.says(name):
            self.fault(name, _("The row names no {what}. Fill it in.").format(what=what))
        return text

    def flag(self, name: str) -> bool | None:
        """Yes or no; None where nothing is said."""
        word = self.text(name, 10).casefold()
        if word in YES or word in NO:
            return word in YES
        if self.says(name):
            self.fault(name, _("This is neither yes nor no. Write one of the two, or nothing."))
        return None

    def choice(self, name: str, words: Mapping[str, str], what: str) -> str:
        """The value that a word stands for; empty where nothing is said."""
        word = self.text(name, 40).casefold()
        if word and word not in words:
            known = ", ".join(sorted(set(words)))
            self.fault(
                name, _("This {what} is not known. Write one of: {known}.").format(what=what, known=known)
            )
        return words.get(word, "")

    def several(self, name: str, longest: int) -> list[str]:
        """What stands in one cell with commas or semicolons between, each once."""
        text = self.cells.get(name, EMPTY_CELL).text.replace(";", ",")
        found = [" ".join(part.split()) for part in text.split(",") if part.strip()]
        if any(len(part) > longest for part in found):
            self.fault(
                name,
                _("A part has more than {longest} signs. Put commas between the parts.").format(
                    longest=longest
                ),
            )
            return []
        return list(dict.fromkeys(found))

    def tag(self, name: str, shortest: int, longest: int) -> str:
        """A tag that scanners find again; no cuts, whose digits could be taken for one."""
        text = self.cells.get(name, EMPTY_CELL).text
        tag = clean_tag(text)
        plain = "".join(sign for sign in text.upper() if sign.isalnum())
        if not text.strip():
            return ""
        if tag != plain or not shortest <= len(tag) <= longest or tag.isdecimal():
            self.fault(
                name,
                _(
                    "A tag has {shortest} to {longest} signs: digits from 2 to 9 and consonants but L, and "
                    "not digits alone. Leave the cell empty to have a new tag made."
                ).format(shortest=shortest, longest=longest),
            )
            return ""
        return tag


def rows_of(given: Given) -> Iterator[TableRow]:
    """The rows below the headings; cells that say no text are told."""
    sheet, columns = given.sheet, given.imported.columns
    main, names = kind_of(given.imported).main, sheet.rows[0][1]
    headings = {name: names[place].text for name, place in columns.items() if place < len(names)}
    here = {"", given.imported.site.code.casefold(), given.imported.site.name.casefold()}
    for number, cells in sheet.rows[1:]:
        found = {name: _plain(sheet.cell(cells, place)) for name, place in columns.items()}
        if all(cell.is_empty for cell in found.values()):
            continue
        row = TableRow(number, main, found, headings)
        for name, cell in found.items():
            if cell.kind in UNREAD:
                row.fault(name, UNREAD[cell.kind])
        if row.text(SITE.name, 120).casefold() not in here:
            row.fault(SITE.name, OTHER_SITE)
        yield row


def _plain(cell: Cell) -> Cell:
    """Without the sign that our own tables put before what a spreadsheet would calculate."""
    text = as_written(cell.text)
    return cell if text == cell.text else Cell(text, cell.kind)


def chunks(items: Iterator[Item], size: int = AT_ONCE) -> Iterator[list[Item]]:
    while chunk := list(islice(items, size)):
        yield chunk


def stepping(given: Given, rows: Iterator[TableRow]) -> Iterator[Sequence[TableRow]]:
    """Chunks of rows, with the job's progress told between them."""
    total, done = max(len(given.sheet.rows) - 1, 1), 0
    for chunk in chunks(rows):
        given.step(done, total, _("Reading the rows"))
        yield chunk
        done += len(chunk)
