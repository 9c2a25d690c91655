"""The rows of a list as the columns chosen say them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from keyctl.lib.sheets import EMPTY_CELL, Cell, Sheet, column_letter
from keyctl.systems.models import KeySymbol

Kind = KeySymbol.Kind
KINDS = {
    "master": Kind.MASTER,
    "master key": Kind.MASTER,
    "m": Kind.MASTER,
    "change": Kind.CHANGE,
    "change key": Kind.CHANGE,
    "c": Kind.CHANGE,
    "control": Kind.CONTROL,
    "control key": Kind.CONTROL,
    "ctr": Kind.CONTROL,
    "ctl": Kind.CONTROL,
}


@dataclass(frozen=True, slots=True)
class ListRow:
    """One row; `cells` keeps what the spreadsheet holds, `columns` where."""

    number: int
    columns: Mapping[str, int] = field(repr=False)
    cells: Mapping[str, Cell] = field(repr=False)

    def place(self, name: str) -> str:
        """The cell as a spreadsheet names it; the row alone where no column says that."""
        if name in self.columns:
            return f"{column_letter(self.columns[name])}{self.number}"
        return _("row {number}").format(number=self.number)

    def cell(self, name: str) -> Cell:
        return self.cells.get(name, EMPTY_CELL)

    @property
    def symbol(self) -> str:
        return self.cell("symbol").text.strip()

    @property
    def bitting(self) -> str:
        """The cuts, without blanks between them."""
        return "".join(self.cell("bitting").text.split())

    @property
    def parent(self) -> str:
        return self.cell("parent").text.strip()

    @property
    def core(self) -> str:
        return self.cell("core").text.strip()

    @property
    def kind_word(self) -> str:
        return self.cell("kind").text.strip().casefold()

    @property
    def kind(self) -> Kind | None:
        """As the row says it, or as the symbol of a control key does; None where nothing does."""
        if self.kind_word in KINDS:
            return KINDS[self.kind_word]
        return Kind.CONTROL if self.symbol.upper() == "CTR" else None

    @property
    def names_core_only(self) -> bool:
        """A row that keys one more core to a key named elsewhere."""
        return self.cell("bitting").is_empty and bool(self.core)


def rows_of(sheet: Sheet, columns: Mapping[str, Any], has_header: bool) -> Iterator[ListRow]:
    chosen = {name: int(column) for name, column in columns.items()}
    for number, cells in sheet.rows[1 if has_header else 0 :]:
        row = ListRow(number, chosen, {name: sheet.cell(cells, column) for name, column in chosen.items()})
        if any(not cell.is_empty for cell in row.cells.values()):
            yield row
