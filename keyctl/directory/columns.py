"""Which column of a list of people says what: guessed from its headings."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext_lazy

from keyctl.lib.sheets import Sheet, column_letter

# What a column can say, in the order in which the page asks.
FIELDS = {
    "external_id": gettext_lazy("Identifier in the other system"),
    "user_name": gettext_lazy("User name"),
    "display_name": gettext_lazy("Whole name"),
    "given_name": gettext_lazy("Given name"),
    "family_name": gettext_lazy("Family name"),
    "email": gettext_lazy("E-mail"),
    "department": gettext_lazy("Department"),
    "kind": gettext_lazy("Kind: staff, student, contractor"),
    "employee_number": gettext_lazy("Personnel or student number"),
}
HEADINGS = {
    "external_id": ("external id", "externalid", "identifier", "person id", "id"),
    "user_name": ("user name", "username", "login", "account", "user id"),
    "display_name": ("display name", "full name", "whole name", "name", "person"),
    "given_name": ("given name", "first name", "forename"),
    "family_name": ("family name", "last name", "surname"),
    "email": ("e-mail", "email", "mail", "e-mail address", "email address"),
    "department": ("department", "faculty", "unit", "organisation", "organization"),
    "kind": ("kind", "type", "status", "category", "group"),
    "employee_number": ("employee number", "personnel number", "student number", "number", "badge"),
}
IDENTIFIERS = ("external_id", "user_name", "email")
NAMES = ("display_name", "given_name", "family_name")


@dataclass(frozen=True, slots=True)
class Guess:
    columns: dict[str, int]
    has_header: bool


def guess_columns(sheet: Sheet, remembered: Mapping[str, str]) -> Guess:
    """By the headings of the last list, then by common ones."""
    first = [cell.text.casefold().strip(" :.").replace("_", " ") for cell in sheet.rows[0][1]]
    found: dict[str, int] = {}
    for field, common in HEADINGS.items():
        for heading in (remembered.get(field, ""), *common):
            if heading and heading in first and first.index(heading) not in found.values():
                found[field] = first.index(heading)
                break
    return Guess(found, bool(found))


def headings_of(sheet: Sheet, has_header: bool) -> list[str]:
    names = sheet.rows[0][1] if has_header else ()
    return [
        f"{column_letter(column)}: {names[column].text[:40]}"
        if column < len(names) and names[column].text
        else column_letter(column)
        for column in range(sheet.width)
    ]


def why_not(columns: Mapping[str, int]) -> str | None:
    """What a list must say to be of use."""
    if not set(IDENTIFIERS) & columns.keys():
        return "Choose a column that tells people apart: an identifier, the user name or the e-mail."
    if not set(NAMES) & columns.keys():
        return "Choose the column of the names."
    if len(set(columns.values())) < len(columns):
        return "One column cannot say two things. Choose another for one of them."
    return None
