"""Who may look at people and who brings them in.

A person belongs to no site, and what is said of one holds everywhere: it is said by who administers every
site, or by an identity provider whose token is for the whole estate.
"""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.directory.models import PeopleList
from keyctl.keys.models import Person
from keyctl.places.access import administered_sites, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
REGISTRARS = (Role.KEY_DESK, Role.ADMINISTRATOR)


def read_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *READERS)


def refuse_outsiders(actor: User) -> None:
    require_some(read_sites(actor))


def keeps_people(actor: User) -> bool:
    """Administers every site, or is the account of an identity provider whose token reaches every site."""
    kept = Site.objects.for_roles(actor, Role.ADMINISTRATOR, Role.INTEGRATION)
    return kept.exists() and not Site.objects.exclude(pk__in=kept.values("pk")).exists()


def require_keeper(actor: User) -> None:
    if not keeps_people(actor):
        raise PermissionDenied


def readable_person(actor: User, pk: UUID) -> Person:
    """People are known to every desk; whoever has no such role anywhere finds nobody."""
    if not read_sites(actor).exists():
        raise Http404
    return get_object_or_404(Person.objects.select_related("user", "entry"), pk=pk)


def kept_person(actor: User, pk: UUID) -> Person:
    person = readable_person(actor, pk)
    require_keeper(actor)
    return person


def readable_list(actor: User, pk: UUID) -> PeopleList:
    """Whole lists of people are for those who bring them in."""
    if not administered_sites(actor).exists():
        raise Http404
    require_keeper(actor)
    return get_object_or_404(PeopleList.objects.select_related("uploaded_by"), pk=pk)


def registrar_sites(actor: User, person: Person) -> QuerySet[Site]:
    """Where the actor may make the person a holder, who is none there yet."""
    return Site.objects.for_roles(actor, *REGISTRARS).exclude(holders__person=person)
