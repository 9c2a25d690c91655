"""Which column of a table says what: guessed from its headings, as the site's last file had them."""

from collections.abc import Mapping

from keyctl.imports.kinds import Field, Kind
from keyctl.lib.columns import headings_of, match_headings, plain_heading, shown_columns
from keyctl.lib.language import in_english
from keyctl.lib.sheets import Sheet


def guess_columns(sheet: Sheet, kind: Kind, remembered: Mapping[str, str]) -> dict[str, int]:
    return match_headings(sheet, {field.name: _common(field) for field in kind.fields}, remembered)


def _common(field: Field) -> tuple[str, ...]:
    """What a field is called here, in the reader's language and in English, then what others call it."""
    english = in_english(field.label).partition(":")[0]
    return (plain_heading(field.plainly), plain_heading(english), plain_heading(field.name), *field.headings)


def shown_headings(sheet: Sheet) -> list[str]:
    """Where the first row holds no headings, its content is not shown."""
    names = [name if any(sign.isalpha() for sign in name) else "" for name in headings_of(sheet)]
    return shown_columns(sheet, names)
