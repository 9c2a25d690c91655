"""The identity provider that the settings name (OpenID Connect Core 1.0), and what is believed of it.

The library starts the flow (state, PKCE) and fetches the token; the ID token is judged here: its signature by
the provider's published keys, issuer, audience, times, the nonce of this very session, and that the person
was asked a short while ago, for a sign-in here counts as a proof of who one is.
"""

import secrets
from hashlib import sha256
from time import time
from typing import Any

import jwt
from allauth.socialaccount.adapter import get_adapter
from allauth.socialaccount.models import SocialApp, SocialLogin
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.openid_connect.provider import OpenIDConnectProvider
from allauth.socialaccount.providers.openid_connect.views import OpenIDConnectOAuth2Adapter
from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

NONCE = "provider-nonce"
# Of public keys alone: a token signed with a shared secret, or not at all, is none.
ALGORITHMS = ["RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA"]
REQUIRED = ["iss", "sub", "aud", "exp", "iat", "nonce", "auth_time"]
# How long ago the provider may have asked the person, and how far its clock may be off.
MAX_AGE_S, LEEWAY_S = 300, 60
ENDPOINTS = ("issuer", "authorization_endpoint", "token_endpoint", "jwks_uri")


class HouseAdapter(OpenIDConnectOAuth2Adapter):
    @property
    def openid_config(self) -> dict[str, Any]:
        config: dict[str, Any] = super().openid_config
        wanted = self.get_provider().app.settings["server_url"]
        if any(not isinstance(config.get(name), str) for name in ENDPOINTS):
            raise OAuth2Error("The provider does not say where it is asked.")
        if config["issuer"].rstrip("/") != wanted:
            raise OAuth2Error("The provider calls itself otherwise than the settings do.")
        return config

    def get_callback_url(self, request: HttpRequest, app: SocialApp) -> str:
        return f"{settings.BASE_URL}{reverse('accounts:provider-callback')}"

    def complete_login(self, request: HttpRequest, app: SocialApp, token: Any, **kwargs: Any) -> SocialLogin:
        nonce = request.session.pop(NONCE, None)
        try:
            claims = self._judged(app, kwargs["response"]["id_token"], nonce)
        except (jwt.PyJWTError, KeyError, TypeError, ValueError) as error:
            raise OAuth2Error("The ID token does not hold.") from error
        if "email" not in claims:
            claims |= self._told_apart(token.token, claims["sub"])
        return self.get_provider().sociallogin_from_response(request, claims)

    def _judged(self, app: SocialApp, id_token: str, nonce: str | None) -> dict[str, Any]:
        claims: dict[str, Any] = jwt.decode(
            id_token,
            self._key_of(id_token),
            algorithms=ALGORITHMS,
            audience=app.client_id,
            issuer=self.openid_config["issuer"],
            leeway=LEEWAY_S,
            options={"require": REQUIRED},
        )
        if not nonce or not secrets.compare_digest(str(claims["nonce"]), nonce):
            raise ValueError("nonce")
        if isinstance(claims["aud"], list) and len(claims["aud"]) > 1 and claims.get("azp") != app.client_id:
            raise ValueError("azp")
        if time() - float(claims["auth_time"]) > MAX_AGE_S + LEEWAY_S:
            raise ValueError("auth_time")
        return claims

    def _key_of(self, id_token: str) -> jwt.PyJWK:
        with get_adapter().get_requests_session() as session:
            answer = session.get(self.openid_config["jwks_uri"])
            answer.raise_for_status()
        keys = jwt.PyJWKSet.from_dict(answer.json()).keys
        wanted = jwt.get_unverified_header(id_token).get("kid")
        fitting = [key for key in keys if key.key_id == wanted] if wanted else keys
        if len(fitting) != 1:
            raise ValueError("kid")
        return fitting[0]

    def _told_apart(self, access_token: str, subject: str) -> dict[str, Any]:
        """Some give the address only here; it counts for the same subject alone (Core, 5.3.2)."""
        if not isinstance(self.openid_config.get("userinfo_endpoint"), str):
            return {}
        told: dict[str, Any] = self._fetch_user_info(access_token)
        if told.get("sub") != subject:
            raise OAuth2Error("The provider tells of somebody else.")
        return {name: told[name] for name in ("email", "email_verified") if name in told}


class HouseProvider(OpenIDConnectProvider):
    oauth2_adapter_class = HouseAdapter

    def extract_uid(self, data: dict[str, Any]) -> str:
        """A subject is one of its issuer: under another issuer the same one is somebody else."""
        return sha256(f"{data['iss']} {data['sub']}".encode()).hexdigest()

    def extract_extra_data(self, data: dict[str, Any]) -> dict[str, Any]:
        """Nothing of what the provider tells is kept but who it is."""
        return {}


provider_classes = [HouseProvider]
