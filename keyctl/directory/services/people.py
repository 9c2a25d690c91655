"""Writing down who is who: added, changed, tied to their sign-in and to the holders that stand for them."""

from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.directory.access import require_keeper
from keyctl.directory.facts import OF_ENTRY, OF_PERSON, Facts, changes_to, refuse_faults, told
from keyctl.directory.models import DirectoryEntry
from keyctl.directory.selectors import called, identified
from keyctl.keys.models import Holder, Person
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.places.roles import Role

Source = DirectoryEntry.Source


class Taken(Conflict):
    """Another person has the user name or the identifier."""


@transaction.atomic
def add_person(*, actor: User, source: DirectoryEntry.Source, facts: Facts) -> Person:
    require_keeper(actor)
    refuse_faults(facts)
    said = facts.said
    person = Person(**{name: said[name] for name in OF_PERSON if name in said})
    if not person.display_name.strip():
        raise Refused(_("A person needs a name."))
    _refuse_taken(person)
    _save_new(person)
    entry = DirectoryEntry(person=person, source=source)
    for name in OF_ENTRY:
        if name in said:
            setattr(entry, name, said[name])
    entry.save(force_insert=True)
    _tie(person)
    _tell(actor, person, "added", f"added {person} to the people, by {in_english(source.label).lower()}")
    return person


@transaction.atomic
def change_person(
    *, actor: User, person: Person, facts: Facts, source: DirectoryEntry.Source | None = None
) -> list[str]:
    """The names of what changed. Nothing that is said twice is written twice."""
    require_keeper(actor)
    refuse_faults(facts)
    person = locked_person(person)
    entry = DirectoryEntry.objects.filter(person=person).first() or DirectoryEntry(
        person=person, source=source or Source.HAND
    )
    changes = changes_to(person, None if entry._state.adding else entry, facts)
    if source and entry.source != source:
        entry.source = source
        entry.save()
    if not changes:
        return []
    _write(person, entry, changes)
    _tell(actor, person, "changed", f"changed what is known of {person}: {told(changes)}")
    return sorted(changes)


@transaction.atomic
def tie_holder(*, actor: User, person: Person, holder: Holder) -> Holder:
    """Somebody has looked: this holder is that person, and goes when the person goes."""
    require_keeper(actor)
    person = locked_person(person)
    if holder.person_id is not None:
        raise Refused(
            _("{holder} stands for somebody already. Look at the holder again.").format(holder=holder)
        )
    if Holder.objects.filter(person=person, site=holder.site_id).exists():
        raise Refused(_("{person} is a holder at {site} already.").format(person=person, site=holder.site))
    if holder.user_id is not None and person.user_id is not None and holder.user_id != person.user_id:
        raise Refused(
            _("{holder} signs in as somebody else than {person}.").format(holder=holder, person=person)
        )
    if not Holder.objects.filter(pk=holder.pk, person=None).update(person=person):
        raise Conflict(_("{holder} was tied to somebody a moment ago. Look again.").format(holder=holder))
    _tell(actor, person, "tied", f"wrote down that the holder {holder} at {holder.site} is {person}")
    return holder


def locked_person(person: Person) -> Person:
    return Person.objects.select_for_update(of=("self",)).select_related("user").get(pk=person.pk)


def entry_of(person: Person) -> DirectoryEntry:
    """Made where somebody else wrote the person down."""
    return DirectoryEntry.objects.get_or_create(person=person, defaults={"source": Source.HAND})[0]


def _write(person: Person, entry: DirectoryEntry, changes: dict[str, Any]) -> None:
    for name, value in changes.items():
        setattr(person if name in OF_PERSON else entry, name, value)
    if "provided" not in changes:
        _correct_provided(entry, changes)
    if not person.display_name.strip():
        raise Refused(_("A person needs a name."))
    if {"user_name", "external_id"} & changes.keys():
        _refuse_taken(person)
    person.changed_at = timezone.now()
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError:
        raise _taken(person) from None
    entry.save()
    _tie(person)
    _pass_on(person, changes)


def _correct_provided(entry: DirectoryEntry, changes: dict[str, Any]) -> None:
    """Somebody else than the provider changed it: the provider gets back what holds now."""
    if "display_name" in changes:
        entry.provided["displayName"] = changes["display_name"]
    if "kind" in changes:
        entry.provided["userType"] = changes["kind"]
    if "email" in changes:
        entry.provided.pop("emails", None)


def _save_new(person: Person) -> None:
    try:
        with transaction.atomic():
            person.save(force_insert=True)
    except IntegrityError:
        raise _taken(person) from None


def _refuse_taken(person: Person) -> None:
    others = Person.objects.exclude(pk=person.pk)
    if person.user_name and others.filter(called(person.user_name)).exists():
        raise _taken(person)
    if person.external_id and others.filter(identified(person.external_id)).exists():
        raise _taken(person)


def _taken(person: Person) -> Taken:
    return Taken(
        _("Somebody else has the user name {user_name} or the identifier {external_id}.").format(
            user_name=person.user_name, external_id=person.external_id
        )
        if person.external_id
        else _("Somebody else has the user name {user_name}.").format(user_name=person.user_name)
    )


def _tie(person: Person) -> None:
    """To the sign-in of the same name, and to holders that are the same person by sign-in or e-mail."""
    if person.user is None and person.user_name:
        user = _user_named(person.user_name)
        if user is not None and not Person.objects.filter(user=user).exists():
            person.user = user
            person.save(update_fields=["user"])
    if person.user is not None:
        _tie_holders(person, user=person.user)
    if person.email:
        _tie_holders(person, email__iexact=person.email)


def _user_named(name: str) -> User | None:
    """Not an integration: its account is nobody's sign-in."""
    found = User.objects.filter(username__iexact=name).exclude(memberships__role=Role.INTEGRATION)[:2]
    return found[0] if len(found) == 1 else None


def _tie_holders(person: Person, **alike: object) -> None:
    """One at a site at most, and none that stands for somebody else already."""
    taken = Holder.objects.filter(person=person).values("site")
    loose = Holder.objects.filter(person=None, **alike).exclude(site__in=taken)
    if person.user_id is None:
        loose = loose.filter(user=None)
    by_site: dict[Any, list[Holder]] = {}
    for holder in loose.order_by("pk"):
        by_site.setdefault(holder.site_id, []).append(holder)
    for alone in (holders[0] for holders in by_site.values() if len(holders) == 1):
        if alone.user_id in {None, person.user_id}:
            Holder.objects.filter(pk=alone.pk, person=None).update(person=person)


def _pass_on(person: Person, changes: dict[str, Any]) -> None:
    """Lists at the desk show people as their directory does."""
    names = {"display_name": "name", "email": "email", "department": "department", "kind": "kind"}
    facts = {names[name]: value for name, value in changes.items() if name in names}
    if facts:
        Holder.objects.filter(person=person).update(**facts)


def _tell(actor: User, person: Person, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"person.{verb}",
        sentence=sentence,
        subjects=[person, *Holder.objects.filter(person=person)],
    )
