"""What both kinds of files have in common: a cell's text and kind, and the words of refusals."""

from keyctl.lib.errors import Refused
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
        raise Refused(f"A cell holds more than {LONGEST_CELL} signs. Is this the right file?")
    if not is_text(text):
        raise Refused("A cell holds signs that are no text. Save the list anew, as CSV in UTF-8 or as .xlsx.")
    return (text, "formula") if text.startswith("=") else (text, "text")


def too_wide(most_columns: int) -> Refused:
    return Refused(f"The list has more than {most_columns} columns. Leave out those nobody needs.")


def no_list() -> Refused:
    return Refused("The file is far larger than a list, once it is read. Save the list by itself.")
