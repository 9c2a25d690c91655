"""Reading people: who is known, what they hold at the actor's sites, lists and their findings."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Count, Q, QuerySet, Value
from django.db.models.functions import Lower
from django.db.models.lookups import Exact

from keyctl.accounts.models import User
from keyctl.directory.access import read_sites
from keyctl.directory.models import EndedSignIn, MissingPerson, PeopleList
from keyctl.keys.models import Custody, Holder, Person
from keyctl.leavers.models import LeaverCase
from keyctl.vault import services as vault

SHOWS = ("active", "holding", "left")
ACTS = ("error", "new", "changed", "gone")
MOST_ALIKE = 20


@dataclass(frozen=True)
class PersonRow:
    person: Person
    keys: int


def people(actor: User, text: str, show: str) -> "QuerySet[Person]":
    """By a part of the name, the user name, the identifier, the e-mail or the department."""
    found = Person.objects.all()
    if show == "left":
        found = found.filter(is_active=False)
    elif show == "holding":
        found = found.filter(pk__in=_holders_with_keys(actor).values("person"))
    else:
        found = found.filter(is_active=True)
    for word in text.split()[:5]:
        found = found.filter(
            Q(display_name__icontains=word)
            | Q(user_name__icontains=word)
            | Q(external_id__icontains=word)
            | Q(email__icontains=word)
            | Q(department__icontains=word)
        )
    return found.order_by("display_name", "pk")


def called(user_name: str) -> Q:
    """By the user name, whatever its capitals, in a form that the unique index answers."""
    return Q(Exact(Lower("user_name"), Lower(Value(user_name)))) & ~Q(user_name="")


def identified(external_id: str) -> Q:
    return Q(external_id=external_id) & ~Q(external_id="")


def rows(actor: User, page: Sequence[Person]) -> list[PersonRow]:
    counted = dict(
        _out(actor)
        .filter(holder__person__in=[person.pk for person in page])
        .order_by()
        .values_list("holder__person")
        .annotate(Count("pk"))
    )
    return [PersonRow(person, counted.get(person.pk, 0)) for person in page]


def holders_of(actor: User, person: Person) -> "QuerySet[Holder]":
    return person.holders.filter(site__in=read_sites(actor)).select_related("site").order_by("site__code")


def keys_of(actor: User, person: Person) -> "QuerySet[Custody]":
    out = _out(actor).filter(holder__person=person)
    return out.select_related("copy__symbol", "copy__site", "holder__site").order_by(
        "copy__site__code", "out_at"
    )


def cases_of(actor: User, person: Person) -> "QuerySet[LeaverCase]":
    cases = LeaverCase.objects.filter(holder__person=person, holder__site__in=read_sites(actor))
    return cases.select_related("holder__site").order_by("-opened_at")


def alike_holders(actor: User, person: Person) -> list[Holder]:
    """Holders who may be this person: of the same name, tied to nobody."""
    taken = person.holders.values("site")
    alike = Holder.objects.filter(person=None, name__iexact=person.display_name, site__in=read_sites(actor))
    return list(alike.exclude(site__in=taken).select_related("site").order_by("site__code")[:MOST_ALIKE])


def ended_sign_in(person: Person) -> EndedSignIn | None:
    return EndedSignIn.objects.filter(person=person, begun_at=None).first()


def lists() -> "QuerySet[PeopleList]":
    return PeopleList.objects.select_related("uploaded_by").defer("content", "findings")


def findings_of(listed: PeopleList) -> list[dict[str, Any]]:
    """What the dry run found; gone with the file."""
    if listed.findings is None:
        return []
    found: list[dict[str, Any]] = json.loads(vault.unseal(listed, "findings"))
    return found


def findings(listed: PeopleList, act: str) -> list[dict[str, Any]]:
    found = findings_of(listed)
    return [finding for finding in found if finding["act"] == act] if act in ACTS else found


def missing_of(listed: PeopleList) -> "QuerySet[MissingPerson]":
    return listed.missing.select_related("person", "decided_by")


def keys_out(people_pks: Sequence[UUID]) -> dict[UUID, int]:
    """Over all sites: whoever decides about leaving keeps the people of them all."""
    out = Custody.objects.filter(holder__person__in=people_pks, ended_at=None)
    return dict(out.order_by().values_list("holder__person").annotate(Count("pk")))


def _out(actor: User) -> "QuerySet[Custody]":
    return Custody.objects.filter(ended_at=None, holder__site__in=read_sites(actor))


def _holders_with_keys(actor: User) -> "QuerySet[Holder]":
    return Holder.objects.filter(pk__in=_out(actor).values("holder"))
