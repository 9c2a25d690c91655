"""What is wrong with rows of a list, each by itself and among each other. No sentence holds a cut."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl import engine
from keyctl.inherited.rows import KINDS, ListRow
from keyctl.systems.models import KeySymbol

Kind = KeySymbol.Kind
LONGEST_SYMBOL = 20
AS_TEXT = gettext_lazy("Format the column as text in the spreadsheet and type it again")


@dataclass(frozen=True, slots=True)
class Fault:
    """One conflict of one row. An error keeps the whole list from being written; a warning does not."""

    row: int
    place: str
    text: str
    is_error: bool = True

    def as_finding(self) -> dict[str, object]:
        return {"row": self.row, "place": self.place, "text": self.text, "error": self.is_error}


def error(row: ListRow, column: str, text: str) -> Fault:
    return Fault(row.number, row.place(column), text)


def warning(row: ListRow, column: str, text: str) -> Fault:
    return Fault(row.number, row.place(column), text, is_error=False)


def faults_of_row(row: ListRow, format: engine.CoreFormat) -> Iterator[Fault]:
    """What can be told from the row alone."""
    yield from _unread_cells(row)
    if not row.symbol:
        yield error(row, "symbol", _("The row has no key symbol."))
    elif len(row.symbol) > LONGEST_SYMBOL:
        yield error(row, "symbol", _("The symbol is longer than {count} signs.").format(count=LONGEST_SYMBOL))
    elif engine.is_key(format.id, row.symbol):
        yield warning(row, "symbol", _("This symbol could be the cuts of a key. Are the columns mixed up?"))
    if row.kind_word and row.kind_word not in KINDS:
        yield error(row, "kind", _("This kind is not known. Write master, change or control, or nothing."))
    if row.kind == Kind.CONTROL and not format.sleeve:
        yield error(
            row, "symbol", _("Cores of this format have no control sleeve: they take no control key.")
        )
    if not row.names_core_only:
        yield from _faults_of_bitting(row, format)


def _unread_cells(row: ListRow) -> Iterator[Fault]:
    words = {
        "formula": _("The cell holds a formula, which is not calculated here. Paste the value itself."),
        "date": _("The spreadsheet made a date of this. {as_text}.").format(as_text=AS_TEXT),
        "error": _("The cell holds an error of the spreadsheet. Correct it there."),
    }
    for name, cell in row.cells.items():
        if cell.kind in words:
            yield error(row, name, words[cell.kind])


def _faults_of_bitting(row: ListRow, format: engine.CoreFormat) -> Iterator[Fault]:
    cell, text = row.cell("bitting"), row.bitting
    if cell.kind not in {"text", "number"}:
        return
    if not text:
        yield error(row, "bitting", _("The row has no bitting."))
        return
    if cell.kind == "number" and len(text) < format.positions:
        yield error(
            row,
            "bitting",
            _(
                "The spreadsheet holds a number of {digits} digits here, and a key has {positions} cuts: "
                "zeros in front are lost. {as_text}."
            ).format(digits=len(text), positions=format.positions, as_text=AS_TEXT),
        )
        return
    for code, position in engine.faults_of_key(format.id, text):
        yield error(row, "bitting", _said(code, position, len(text), format))


def _said(code: str, position: int | None, length: int, format: engine.CoreFormat) -> str:
    if code == "length":
        return _wrong_length(length, format.positions)
    if code == "depth":
        return _("Position {position} is no depth of this format, which has {depths}.").format(
            position=position, depths=format.depths
        )
    return _("Positions {number} and {position} lie further apart than the limit of {macs}.").format(
        number=(position or 1) - 1, position=position, macs=format.macs
    )


def _wrong_length(length: int, positions: int) -> str:
    said = ngettext(
        "{count} cut is given for {positions} positions.",
        "{count} cuts are given for {positions} positions.",
        length,
    ).format(count=length, positions=positions)
    if length >= positions:
        return said
    return _(
        "{said} If zeros in front were lost: format the column as text in the spreadsheet and type it again."
    ).format(said=said)


def faults_among(rows: Sequence[ListRow]) -> Iterator[Fault]:
    """Symbols, bittings and control keys that the list gives twice."""
    yield from _twice(rows, "symbol", lambda row: row.symbol)
    operating = [row for row in rows if row.kind != Kind.CONTROL]
    yield from _twice(operating, "bitting", lambda row: row.bitting)
    controls = [row for row in rows if row.kind == Kind.CONTROL]
    for row in controls[1:]:
        yield error(
            row,
            "symbol",
            _("Row {row} gives a control key already; a system has one.").format(row=controls[0].number),
        )
    taken = {row.bitting: row for row in controls if row.bitting}
    for row in operating:
        if row.bitting in taken:
            control = taken[row.bitting]
            yield error(
                row, "bitting", _("It is cut like the control key in row {row}.").format(row=control.number)
            )


def _twice(rows: Sequence[ListRow], column: str, value: Callable[[ListRow], str]) -> Iterator[Fault]:
    first: dict[str, ListRow] = {}
    if column == "symbol":
        sentence = _("This symbol stands in row {row} too ({symbol}).")
    else:
        sentence = _("This bitting stands in row {row} too ({symbol}).")
    for row in rows:
        if not (found := value(row)):
            continue
        if (other := first.setdefault(found, row)) is not row:
            yield error(row, column, sentence.format(row=other.number, symbol=other.symbol))


def faults_of_tree(
    rows: Sequence[ListRow], stored: Mapping[str, KeySymbol], most_levels: int
) -> Iterator[Fault]:
    """Masters that are not there, that are no masters, that stand above themselves, and too many levels."""
    given = {row.symbol: row for row in rows}
    for row in rows:
        if not row.parent:
            continue
        if row.kind == Kind.CONTROL:
            yield error(row, "parent", _("A control key stands under no master."))
        elif row.parent not in given and row.parent not in stored:
            yield error(
                row, "parent", _("{key} is neither in the list nor in the system.").format(key=row.parent)
            )
        else:
            yield from _faults_of_parent(row, given, stored)
    for symbol, depth in depths_of(rows, stored).items():
        if depth is None:
            yield error(given[symbol], "parent", _("Its masters lead back to itself."))
        elif depth >= most_levels:
            message = _("It stands on level {number}; the system has {most_levels}.").format(
                number=depth + 1, most_levels=most_levels
            )
            yield error(given[symbol], "parent", message)


def _faults_of_parent(
    row: ListRow, given: Mapping[str, ListRow], stored: Mapping[str, KeySymbol]
) -> Iterator[Fault]:
    above = given[row.parent].kind if row.parent in given else Kind(stored[row.parent].kind)
    if above in {Kind.CONTROL, Kind.CHANGE}:
        if above == Kind.CONTROL:
            sentence = _("{key} is the control key, and no key stands under it.")
        else:
            sentence = _("{key} is a change key, and no key stands under it.")
        yield error(row, "parent", sentence.format(key=row.parent))


def depths_of(rows: Sequence[ListRow], stored: Mapping[str, KeySymbol]) -> dict[str, int | None]:
    """By symbol, the level of a row's key, from 0; None in a circle. An unknown master counts as none."""
    parents = {row.symbol: row.parent for row in rows}
    depths: dict[str, int | None] = {}
    for symbol in parents:
        line: list[str] = []
        at = symbol
        while at in parents and at not in depths and at not in line:
            line.append(at)
            at = parents[at]
        below = _depth_at(at, line, depths, stored)
        for name in reversed(line):
            below = None if below is None else below + 1
            depths[name] = below
    return depths


def _depth_at(
    at: str, line: Sequence[str], depths: Mapping[str, int | None], stored: Mapping[str, KeySymbol]
) -> int | None:
    """The level of the key at which a walk upwards ended; -1 above a top key, None where it met itself."""
    if at in line:
        return None
    if at in depths:
        return depths[at]
    return (stored[at].level or 0) if at in stored else -1


def lines_of(rows: Sequence[ListRow]) -> dict[str, list[str]]:
    """By symbol, the masters above it that are in the list or named by it, nearest first."""
    parents = {row.symbol: row.parent for row in rows if row.parent}
    lines: dict[str, list[str]] = defaultdict(list)
    for symbol in parents:
        at = parents.get(symbol, "")
        while at and at not in lines[symbol] and at != symbol:
            lines[symbol].append(at)
            at = parents.get(at, "")
    return lines
