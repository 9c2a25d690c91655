"""Who speaks SCIM: a token with the scope for people, which is for the whole estate."""

from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404, HttpRequest

from keyctl.accounts.models import User
from keyctl.api.auth import REALM, TokenAuthentication
from keyctl.api.models import Scope
from keyctl.api.services import reach_whole_estate
from keyctl.keys.models import Person
from keyctl.scim.errors import ScimRefusal


def provider_of(request: HttpRequest) -> User:
    """The account that the token belongs to; sites that were opened since it was made are reached too."""
    found = TokenAuthentication().authenticate(request)  # type: ignore[arg-type]  # it reads the headers only
    if found is None:
        raise ScimRefusal(
            401, "Send a token: Authorization: Bearer kc_…", headers={"WWW-Authenticate": REALM}
        )
    user, token = found
    if not token.carries(Scope.PEOPLE):
        challenge = f'{REALM}, error="insufficient_scope", scope="{Scope.PEOPLE.value}"'
        words = f"This token does not carry the scope {Scope.PEOPLE.value}."
        raise ScimRefusal(403, words, headers={"WWW-Authenticate": challenge})
    reach_whole_estate(token)
    return user


def people() -> QuerySet[Person]:
    """All but those whom the provider deleted."""
    found = Person.objects.exclude(entry__removed_at__isnull=False).select_related("entry")
    return found.order_by("created_at", "pk")


def person_at(text: str) -> Person:
    try:
        return people().get(pk=UUID(text))
    except (ValueError, Person.DoesNotExist):
        raise Http404 from None
