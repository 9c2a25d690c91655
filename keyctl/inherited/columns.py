"""Which column of a list says what: guessed from its headings, or from what stands in it."""

from collections.abc import Mapping

from django.utils.translation import gettext_lazy

from keyctl.lib.columns import Guess, headings_of, match_headings, shown_columns
from keyctl.lib.sheets import Cell, Sheet

# What a column can say, in the order in which the page asks.
FIELDS = {
    "symbol": gettext_lazy("Key symbol"),
    "bitting": gettext_lazy("Bitting"),
    "parent": gettext_lazy("Master above it"),
    "kind": gettext_lazy("Kind: master, change or control"),
    "core": gettext_lazy("Core or door that is keyed to it"),
}
NEEDED = ("symbol", "bitting")
HEADINGS = {
    "symbol": ("key symbol", "symbol", "key set", "keyset", "key", "key no", "key number", "name"),
    "bitting": ("bitting", "cuts", "key cuts", "combination", "key code", "code"),
    "parent": ("parent", "master above", "master key", "master", "under", "above", "group"),
    "kind": ("kind", "type", "key type", "level"),
    "core": ("core", "core tag", "door", "lock", "opening", "cylinder", "room"),
}
SAMPLED = 50


def guess_columns(sheet: Sheet, positions: int, remembered: Mapping[str, str]) -> Guess:
    """By the headings, else by what looks like bittings."""
    found = match_headings(sheet, HEADINGS, remembered)
    has_header = bool(found) and not any(_is_number(cell, positions) for cell in sheet.rows[0][1])
    if not has_header:
        found = {}
    if "bitting" not in found:
        found |= _by_content(sheet, positions, found, skip=1 if has_header else 0)
    return Guess(found, has_header)


def shown_headings(sheet: Sheet, has_header: bool) -> list[str]:
    """Never the content of a list without headings: it is a row of cuts."""
    return shown_columns(sheet, headings_of(sheet) if has_header else ())


def _is_number(cell: Cell, positions: int) -> bool:
    """Whether it holds cuts, which no heading does."""
    return cell.text.isdecimal() and len(cell.text) in (positions - 1, positions)


def _is_bitting(cell: Cell, positions: int) -> bool:
    text = cell.text.replace(" ", "")
    return text.isalnum() and any(sign.isdigit() for sign in text) and len(text) in (positions - 1, positions)


def _by_content(sheet: Sheet, positions: int, found: Mapping[str, int], skip: int) -> dict[str, int]:
    """The column where most cells have as many signs as a key has cuts; the first other one is the symbol."""
    rows = [cells for _, cells in sheet.rows[skip : skip + SAMPLED]]
    free = [column for column in range(sheet.width) if column not in found.values()]
    likeness = {
        column: sum(_is_bitting(sheet.cell(cells, column), positions) for cells in rows) for column in free
    }
    best = max(free, key=lambda column: (likeness[column], -column), default=None)
    if best is None or likeness[best] * 2 <= len(rows):
        return {}
    guessed = {"bitting": best}
    if "symbol" not in found and (rest := [column for column in free if column != best]):
        guessed["symbol"] = rest[0]
    return guessed
