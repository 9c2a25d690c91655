"""What both kinds of files have in common: a cell's text and kind, and the words of refusals."""

from keyctl.lib.marked import RefusedInside, gettext_noop
from keyctl.lib.texts import is_text

LONGEST_CELL = 200
# A text, and what it is: text, number, formula, date, error.
Entry = tuple[str, str]
EMPTY: Entry = ("", "text")


def text_entry(value: str) -> Entry:
    text = value.strip()
    if not text:
        return EMPTY
    if len(text) > LONGEST_CELL:
        raise RefusedInside(
            gettext_noop("A cell holds more than {most} signs. Is this the right file?"), most=LONGEST_CELL
        )
    if not is_text(text):
        raise RefusedInside(
            gettext_noop(
                "A cell holds signs that are no text. Save the list anew, as CSV in UTF-8 or as .xlsx."
            )
        )
    return (text, "formula") if text.startswith("=") else (text, "text")


def too_wide(most_columns: int) -> RefusedInside:
    return RefusedInside(
        gettext_noop("The list has more than {most} columns. Leave out those nobody needs."),
        most=most_columns,
    )


def no_list() -> RefusedInside:
    return RefusedInside(
        gettext_noop("The file is far larger than a list, once it is read. Save the list by itself.")
    )
