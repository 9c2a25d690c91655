"""What an identity provider says becomes true here, each act in one transaction."""

from typing import Any

from django.db import transaction
from django.http import Http404
from scim2_models import PatchOp

from keyctl.accounts.models import User as Account
from keyctl.directory.models import DirectoryEntry
from keyctl.directory.selectors import called, identified
from keyctl.directory.services import (
    add_person,
    change_person,
    deactivate_person,
    reactivate_person,
    remove_person,
)
from keyctl.keys.models import Person
from keyctl.leavers.models import LeaverCase
from keyctl.scim.errors import ScimRefusal
from keyctl.scim.mapping import facts_of, user_of
from keyctl.scim.resources import TOLERANT, User

SCIM = DirectoryEntry.Source.SCIM
Why = LeaverCase.Why


@transaction.atomic
def create_user(*, actor: Account, user: User) -> Person:
    """Somebody whom the provider deleted and creates anew is the same person."""
    facts = facts_of(user)
    person = _removed(facts.user_name or "", facts.external_id or "")
    if person is None:
        person = add_person(actor=actor, source=SCIM, facts=facts)
    else:
        DirectoryEntry.objects.filter(person=person).update(removed_at=None)
        change_person(actor=actor, person=person, facts=facts, source=SCIM)
    _set_state(actor, person, user.active is not False)
    return _fresh(person)


@transaction.atomic
def replace_user(*, actor: Account, person: Person, user: User, expected: str = "") -> Person:
    """What the body leaves out is cleared, but for ``active``: nobody leaves or comes back by silence."""
    held = _held(person, expected)
    _change(actor, held, user)
    return _fresh(person)


@transaction.atomic
def patch_user(*, actor: Account, person: Person, patch: "PatchOp[Any]", expected: str = "") -> Person:
    held = _held(person, expected)
    user = user_of(held)
    with TOLERANT:
        patch.patch(user)
    if not user.user_name and held.user_name:
        raise ScimRefusal(400, "userName is required.", "invalidValue")
    _change(actor, held, user)
    return _fresh(person)


@transaction.atomic
def delete_user(*, actor: Account, person: Person, expected: str = "") -> None:
    """They have left; the provider finds them no more, and who held which key is not forgotten."""
    remove_person(actor=actor, person=_held(person, expected))


def _change(actor: Account, person: Person, user: User) -> None:
    change_person(actor=actor, person=person, facts=facts_of(user, person), source=SCIM)
    if user.active is not None:
        _set_state(actor, person, user.active)


def _set_state(actor: Account, person: Person, is_active: bool) -> None:
    if is_active:
        reactivate_person(actor=actor, person=person)
    else:
        deactivate_person(actor=actor, person=person, why=Why.SCIM)


def _held(person: Person, expected: str) -> Person:
    """The person as they are now, held; refused where the provider saw another version."""
    Person.objects.select_for_update().get(pk=person.pk)
    fresh = _fresh(person)
    if DirectoryEntry.objects.filter(person=person, removed_at__isnull=False).exists():
        raise Http404
    if expected and not matches(expected, fresh):
        raise ScimRefusal(412, "The user has changed since you read it. Read it again.")
    return fresh


def matches(header: str, person: Person) -> bool:
    """Whether one of the tags in the header is the person's version (RFC 7232, weakly compared)."""
    version = _bare(_version(person))
    return header.strip() == "*" or version in {_bare(tag) for tag in header.split(",")}


def _version(person: Person) -> str:
    meta: Any = user_of(person).meta
    return str(meta.version)


def _bare(tag: str) -> str:
    return tag.strip().removeprefix("W/").strip('"')


def _fresh(person: Person) -> Person:
    return Person.objects.select_related("entry").get(pk=person.pk)


def _removed(user_name: str, external_id: str) -> Person | None:
    gone = Person.objects.select_for_update(of=("self",)).filter(entry__removed_at__isnull=False)
    if user_name and (found := gone.filter(called(user_name)).first()):
        return found
    return gone.filter(identified(external_id)).first() if external_id else None
