"""The columns of a table that somebody sent: how they are called, and which says what."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused
from keyctl.lib.language import Text, in_sentence
from keyctl.lib.sheets import Sheet, column_letter

LONGEST_HEADING = 60
LONGEST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Guess:
    """Columns by what they say, and whether the first row is a heading."""

    columns: dict[str, int]
    has_header: bool


def plain_heading(text: str) -> str:
    """
    >>> plain_heading(" Door_No.: ")
    'door no'
    """
    return " ".join(text.casefold().replace("_", " ").strip(" :.").split())[:LONGEST_HEADING]


def headings_of(sheet: Sheet) -> list[str]:
    return [cell.text for cell in sheet.rows[0][1]]


def match_headings(
    sheet: Sheet, common: Mapping[str, Iterable[str]], remembered: Mapping[str, str]
) -> dict[str, int]:
    """By the headings of the last table, then by common ones; no column says two things."""
    first = [plain_heading(text) for text in headings_of(sheet)]
    last = [(field, plain_heading(remembered.get(field, ""))) for field in common]
    known = [(field, heading) for field, headings in common.items() for heading in headings]
    found: dict[str, int] = {}
    for field, heading in (*last, *known):
        place = first.index(heading) if heading and heading in first else None
        if field not in found and place is not None and place not in found.values():
            found[field] = place
    return found


def named_columns(sheet: Sheet, fields: Collection[str], named: Mapping[str, str]) -> dict[str, int]:
    """Columns by their headings (or letters), as a command is told them."""
    first = [plain_heading(text) for text in headings_of(sheet)]
    letters = [column_letter(column).casefold() for column in range(sheet.width)]
    found = {}
    for heading, name in named.items():
        if name not in fields:
            raise Refused(
                _("There is no field {name}. A column can say: {names}.").format(
                    name=name, names=", ".join(fields)
                )
            )
        wanted = plain_heading(heading)
        if wanted not in first and wanted not in letters:
            raise Refused(_("The file has no column {heading}.").format(heading=heading))
        found[name] = first.index(wanted) if wanted in first else letters.index(wanted)
    return found


def headings_to_keep(sheet: Sheet, columns: Mapping[str, int]) -> dict[str, str]:
    """For the next table that comes from there."""
    names = headings_of(sheet)
    return {field: plain_heading(names[place]) for field, place in columns.items() if place < len(names)}


def shown_columns(sheet: Sheet, names: Sequence[str]) -> list[str]:
    """What a person calls each column: by its letter, and by its name where it has one."""
    letters = [column_letter(column) for column in range(sheet.width)]
    known = [*names, *[""] * sheet.width]
    return [
        f"{letter}: {name[:LONGEST_SHOWN]}" if name else letter
        for letter, name in zip(letters, known, strict=False)
    ]


def refuse_columns(columns: Mapping[str, int], needed: Mapping[str, Text]) -> None:
    if missing := [in_sentence(label) for field, label in needed.items() if field not in columns]:
        raise Refused(_("Choose the column of the {missing}.").format(missing=", ".join(missing)))
    if len(set(columns.values())) < len(columns):
        raise Refused(_("One column cannot say two things. Choose another for one of them."))
