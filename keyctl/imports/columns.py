"""Which column of a table says what: guessed from its headings, as the site's last file had them."""

from collections.abc import Mapping

from django.utils.translation import gettext as _

from keyctl.imports.kinds import Field, Kind
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.lib.sheets import Sheet, column_letter

LONGEST_HEADING = 60


def plain_heading(text: str) -> str:
    """
    >>> plain_heading(" Door_No.: ")
    'door no'
    """
    return " ".join(text.casefold().replace("_", " ").strip(" :.").split())[:LONGEST_HEADING]


def headings_of(sheet: Sheet) -> list[str]:
    return [cell.text for cell in sheet.rows[0][1]]


def guess_columns(sheet: Sheet, kind: Kind, remembered: Mapping[str, str]) -> dict[str, int]:
    """By the headings of the last file, then by common ones, then by what a field is called here."""
    first = [plain_heading(text) for text in headings_of(sheet)]
    found: dict[str, int] = {}
    known = [(field.name, remembered.get(field.name, "")) for field in kind.fields]
    common = [(field.name, heading) for field in kind.fields for heading in _common(field)]
    for name, heading in (*known, *common):
        place = first.index(heading) if heading and heading in first else None
        if name not in found and place is not None and place not in found.values():
            found[name] = place
    return found


def _common(field: Field) -> tuple[str, ...]:
    """What a field is called here, in the reader's language and in English, then what others call it."""
    english = in_english(field.label).partition(":")[0]
    return (plain_heading(field.plainly), plain_heading(english), plain_heading(field.name), *field.headings)


def shown_headings(sheet: Sheet) -> list[str]:
    """What a person calls each column. Where the first row holds no headings, its content is not shown."""
    names = headings_of(sheet)
    return [
        f"{column_letter(column)}: {names[column][:40]}"
        if column < len(names) and any(sign.isalpha() for sign in names[column])
        else column_letter(column)
        for column in range(sheet.width)
    ]


def refuse_columns(kind: Kind, columns: Mapping[str, int]) -> None:
    if missing := [field.label.lower() for field in kind.needed if field.name not in columns]:
        raise Refused(_("Choose the column of the {missing}.").format(missing=" and of the ".join(missing)))
    if len(set(columns.values())) < len(columns):
        raise Refused(_("One column cannot say two things. Choose another for one of them."))


def named_columns(sheet: Sheet, kind: Kind, named: Mapping[str, str]) -> dict[str, int]:
    """Columns by their headings (or letters), as the command is told them."""
    first = [plain_heading(text) for text in headings_of(sheet)]
    letters = [column_letter(column).casefold() for column in range(sheet.width)]
    found = {}
    for heading, name in named.items():
        if name not in {field.name for field in kind.fields}:
            names = ", ".join(field.name for field in kind.fields)
            raise Refused(
                _("There is no field {name}. A column can say: {names}.").format(name=name, names=names)
            )
        wanted = plain_heading(heading)
        if wanted not in first and wanted not in letters:
            raise Refused(_("The file has no column {heading}.").format(heading=heading))
        found[name] = first.index(wanted) if wanted in first else letters.index(wanted)
    return found


def headings_to_keep(sheet: Sheet, columns: Mapping[str, int]) -> dict[str, str]:
    names = headings_of(sheet)
    return {field: plain_heading(names[place]) for field, place in columns.items() if place < len(names)}
