"""What a directory says of a person, trimmed and bounded, from whatever it came."""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.directory.models import DirectoryEntry
from keyctl.keys.models import Person, PersonKind
from keyctl.lib.errors import Refused
from keyctl.notices.wording import is_address

LONGEST = {
    "user_name": 150,
    "external_id": 150,
    "display_name": 120,
    "email": 254,
    "department": 120,
    "given_name": 120,
    "family_name": 120,
    "employee_number": 60,
}
NAMES = {
    "user_name": gettext_lazy("user name"),
    "external_id": "identifier",
    "display_name": "name",
    "email": "e-mail",
    "department": "department",
    "kind": "kind",
    "given_name": gettext_lazy("given name"),
    "family_name": gettext_lazy("family name"),
    "employee_number": "number",
    "provided": gettext_lazy("words of the identity provider"),
}
# Other words for the four kinds, as directories use them.
KINDS = {
    PersonKind.STAFF: ("staff", "employee", "faculty", "academic", "member", "permanent"),
    PersonKind.STUDENT: ("student", "undergraduate", "postgraduate", "learner"),
    PersonKind.CONTRACTOR: ("contractor", "contract", "external", "vendor", "agency", "temporary"),
}


@dataclass(frozen=True)
class Facts:
    """None says nothing: what is known stays. Empty text says that there is none."""

    user_name: str | None = None
    external_id: str | None = None
    display_name: str | None = None
    email: str | None = None
    department: str | None = None
    kind: str | None = None
    given_name: str | None = None
    family_name: str | None = None
    employee_number: str | None = None
    # As an identity provider gave it (see ``DirectoryEntry``).
    provided: dict[str, Any] | None = None

    @property
    def said(self) -> dict[str, Any]:
        return {
            field.name: value for field in fields(self) if (value := getattr(self, field.name)) is not None
        }


OF_PERSON = ("user_name", "external_id", "display_name", "email", "department", "kind")
OF_ENTRY = ("given_name", "family_name", "employee_number", "provided")


def kind_of(word: str) -> str:
    """The kind that a directory's own word stands for.

    >>> [str(kind_of(word)) for word in ("Employee", "STUDENT", "contractors", "", "Visiting scholar")]
    ['staff', 'student', 'contractor', 'staff', 'other']
    """
    plain = word.strip().casefold()
    if not plain:
        return PersonKind.STAFF
    for kind, words in KINDS.items():
        if plain in words or plain.removesuffix("s") in words:
            return kind
    return PersonKind.OTHER


def faults_of(facts: Mapping[str, Any]) -> list[str]:
    """What no person can be called, each as a sentence."""
    faults = []
    for name, longest in LONGEST.items():
        text = facts.get(name) or ""
        if len(text) > longest:
            faults.append(
                _("The {names} is longer than {longest} signs.").format(names=NAMES[name], longest=longest)
            )
        elif any(_is_control(sign) for sign in text):
            faults.append(_("The {names} holds signs that are no text.").format(names=NAMES[name]))
    email = facts.get("email") or ""
    if email and not is_address(email):
        faults.append(_("The e-mail cannot be an address."))
    return faults


def refuse_faults(facts: Facts) -> None:
    if faults := faults_of(facts.said):
        raise Refused(faults[0], reasons=faults[1:])


def changes_to(person: Person, entry: DirectoryEntry | None, facts: Facts) -> dict[str, Any]:
    """What differs from what is known, by name."""
    entry = entry or DirectoryEntry()
    return {
        name: value
        for name, value in facts.said.items()
        if value != getattr(person if name in OF_PERSON else entry, name)
    }


def told(changes: Mapping[str, Any]) -> str:
    """The names of what changed, never the values.

    >>> told({"email": "a@example.org", "department": "Physics", "provided": {}})
    'department, e-mail'
    """
    told = [name for name in changes if name != "provided"] or changes
    names = {str(NAMES[name]) for name in told}
    return ", ".join(sorted(names))


def _is_control(sign: str) -> bool:
    return unicodedata.category(sign) in {"Cc", "Cs"}
