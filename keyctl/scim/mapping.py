"""A person as a User, and what a User says of a person."""

import hashlib
import json
from typing import Any
from urllib.parse import quote

from scim2_models import Meta

from keyctl.directory.facts import Facts, kind_of
from keyctl.directory.models import DirectoryEntry
from keyctl.keys.models import Person as Known
from keyctl.scim.resources import Email, EnterpriseUser, Name, Person, User, base_url

MOST_EMAILS = 20


def user_of(person: Known) -> User:
    """What the provider gave comes back as it gave it; a person from elsewhere is told by what is known."""
    entry = getattr(person, "entry", None) or DirectoryEntry(person=person)
    user = Person(
        id=str(person.pk),
        external_id=person.external_id or None,
        user_name=name_of(person),
        name=_name(entry),
        display_name=_word(entry, "displayName", person.display_name),
        user_type=_word(entry, "userType", person.kind),
        active=person.is_active,
        emails=_emails(person, entry),
    )
    if person.department or entry.employee_number:
        user[EnterpriseUser] = EnterpriseUser(
            department=person.department or None, employee_number=entry.employee_number or None
        )
    user.meta = Meta(
        resource_type="User",
        created=person.created_at,
        last_modified=person.changed_at,
        location=location_of(person),
        version=version_of(user),
    )
    return user


def name_of(person: Known) -> str:
    """SCIM wants a userName of everybody; a list may have brought people without."""
    return person.user_name or person.external_id or person.email or str(person.pk)


def location_of(person: Known) -> str:
    return f"{base_url()}/Users/{quote(str(person.pk))}"


def version_of(user: User) -> str:
    """Of what is told, so that no change is missed, from wherever it came."""
    told = json.dumps(user.model_dump(), sort_keys=True)
    return f'W/"{hashlib.sha256(told.encode()).hexdigest()[:20]}"'


def facts_of(user: User, known: Known | None = None) -> Facts:
    """All that a User says; what it leaves out is not there any more. A lent name stays lent."""
    name = user.name or Name()
    extension = user[EnterpriseUser] or EnterpriseUser()
    emails = [email.model_dump() for email in user.emails or [] if email.value][:MOST_EMAILS]
    provided = {
        "displayName": user.display_name,
        "formatted": name.formatted,
        "userType": user.user_type,
        "emails": emails,
    }
    return Facts(
        user_name="" if known and _is_lent(user, known) else _said(user.user_name),
        external_id=_said(user.external_id),
        display_name=_shown(user, name, known),
        email=_chosen(user.emails or []),
        department=_said(extension.department),
        kind=str(kind_of(user.user_type or "")),
        given_name=_said(name.given_name),
        family_name=_said(name.family_name),
        employee_number=_said(extension.employee_number),
        provided={word: value for word, value in provided.items() if value},
    )


def _name(entry: DirectoryEntry) -> Name | None:
    name = Name(
        formatted=entry.provided.get("formatted"),
        given_name=entry.given_name or None,
        family_name=entry.family_name or None,
    )
    return name if name.model_dump() else None


def _word(entry: DirectoryEntry, word: str, known: str) -> str | None:
    """What a provider left out it does not get back as if it had said it."""
    if entry.source == DirectoryEntry.Source.SCIM or word in entry.provided:
        found: str | None = entry.provided.get(word)
        return found
    return known or None


def _emails(person: Known, entry: DirectoryEntry) -> list[Email] | None:
    if given := entry.provided.get("emails"):
        return [Email(**email) for email in given]
    return [Email(value=person.email, type="work", primary=True)] if person.email else None


def _shown(user: User, name: Name, known: Known | None) -> str:
    """Somebody at the desk needs a name: where none is said, the one that is known stays."""
    full = f"{name.given_name or ''} {name.family_name or ''}".strip()
    said = user.display_name or name.formatted or full
    return (said or (known.display_name if known else "") or user.user_name or "").strip()[:120]


def _chosen(emails: list[Email]) -> str:
    """The primary address, else the one of work, else the first."""
    ranked = sorted(emails, key=lambda email: (not email.primary, (email.type or "").lower() != "work"))
    return next((email.value for email in ranked if email.value), "")


def _is_lent(user: User, known: Known) -> bool:
    return not known.user_name and user.user_name == name_of(known)


def _said(value: Any) -> str:
    return (value or "").strip()
