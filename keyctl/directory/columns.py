"""Which column of a list of people says what: guessed from its headings."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.columns import Guess, headings_of, match_headings, shown_columns
from keyctl.lib.sheets import Sheet

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


def guess_columns(sheet: Sheet, remembered: Mapping[str, str]) -> Guess:
    found = match_headings(sheet, HEADINGS, remembered)
    return Guess(found, bool(found))


def shown_headings(sheet: Sheet, has_header: bool) -> list[str]:
    return shown_columns(sheet, headings_of(sheet) if has_header else ())


def why_not(columns: Mapping[str, int]) -> str | None:
    """What a list must say to be of use."""
    if not set(IDENTIFIERS) & columns.keys():
        return _("Choose a column that tells people apart: an identifier, the user name or the e-mail.")
    if not set(NAMES) & columns.keys():
        return _("Choose the column of the names.")
    if len(set(columns.values())) < len(columns):
        return _("One column cannot say two things. Choose another for one of them.")
    return None
