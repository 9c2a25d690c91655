"""Who is asking (the token) and what the token may do (its scopes)."""

from typing import TYPE_CHECKING

from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from keyctl.accounts.agents import address_of
from keyctl.accounts.models import User
from keyctl.api.credentials import Credential
from keyctl.api.models import Scope, Token
from keyctl.api.networks import holds
from keyctl.api.problems import Problem
from keyctl.api.services import note_turned_away, note_use
from keyctl.lib.prepared import Prepared, Slot

if TYPE_CHECKING:  # the framework's views import this module while they load
    from rest_framework.views import APIView

REALM = 'Bearer realm="keyctl"'

# Asked by every call.
TOKEN = Prepared(lambda: Token.objects.select_related("user").filter(prefix=Slot("prefix")))


class MissingScope(exceptions.PermissionDenied):
    """403 with the challenge of RFC 6750, 3.1."""

    def __init__(self, scope: Scope) -> None:
        super().__init__(f"This token does not carry the scope {scope.value}.")
        self.auth_header = f'{REALM}, error="insufficient_scope", scope="{scope.value}"'


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer kc_<prefix>_<secret>`` (RFC 6750)."""

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        scheme, _, text = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        token = self._live(self._known(text.strip()))
        self._refuse_elsewhere(request, token)
        note_use(token)
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        sent = request.headers.get("Authorization", "").lower().startswith("bearer ")
        return f'{REALM}, error="invalid_token"' if sent else REALM

    def _known(self, text: str) -> Token:
        credential = Credential.read(text)
        token = TOKEN.first(prefix=credential.prefix) if credential else None
        if credential is None or token is None or not credential.fits(token.digest):
            raise exceptions.AuthenticationFailed("This token is not known. Check that it was copied whole.")
        return token

    def _live(self, token: Token) -> Token:
        """Why a token no longer works is told only to who holds its secret."""
        if token.is_revoked:
            raise exceptions.AuthenticationFailed("This token was revoked. Ask an administrator for another.")
        if token.is_expired:
            raise exceptions.AuthenticationFailed("This token has expired. Ask an administrator for another.")
        if not token.user.is_active:
            raise exceptions.AuthenticationFailed("The account behind this token was closed.")
        return token

    def _refuse_elsewhere(self, request: Request, token: Token) -> None:
        """After the secret: a stranger learns nothing of where a token works."""
        if token.networks and not holds(token.network_list, address_of(request)):
            note_turned_away(token)
            raise Problem("foreign-network")


class HasScope(BasePermission):
    """Every view names the scope of each of its methods; a method it does not have is answered by 405."""

    def has_permission(self, request: Request, view: "APIView") -> bool:
        token = request.auth
        if not isinstance(token, Token):
            return False
        scope = scope_of(view, request.method or "")
        if scope is not None and not token.carries(scope):
            raise MissingScope(scope)
        return True


def scope_of(view: "APIView", method: str) -> Scope | None:
    """None for a method that the address does not have: it is answered by 405, whatever the token carries."""
    scopes: dict[str, Scope] = getattr(view, "scopes", {})
    has: dict[str, str] = getattr(view, "action_map", None) or {}
    return scopes.get("GET" if method == "HEAD" else method) if method.lower() in has else None
