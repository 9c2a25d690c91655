"""Who may see and revoke tokens: the administrators of the sites they reach."""

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.api.models import Token
from keyctl.places.access import administered_sites
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role


def require_administrator_of_all(actor: User, sites: Iterable[Site]) -> None:
    asked = {site.pk for site in sites}
    if administered_sites(actor).filter(pk__in=asked).count() != len(asked):
        raise PermissionDenied


def reached_sites(token: Token) -> QuerySet[Site]:
    return Site.objects.for_roles(token.user, Role.INTEGRATION)


def visible_tokens(actor: User) -> QuerySet[Token]:
    """The tokens that reach at least one site the actor administers."""
    reach = Membership.objects.filter(site__in=administered_sites(actor), role=Role.INTEGRATION)
    return Token.objects.filter(user__in=reach.values("user")).select_related("user", "created_by")


def readable_token(actor: User, pk: UUID) -> Token:
    return get_object_or_404(visible_tokens(actor), pk=pk)
