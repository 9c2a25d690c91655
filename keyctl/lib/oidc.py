"""One identity provider, named in the environment."""

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from keyctl.lib import env

PROVIDER = "house"
_WANTED = ("KEYCTL_OIDC_CLIENT_ID", "KEYCTL_OIDC_CLIENT_SECRET")
_LOOPBACK = {"127.0.0.1", "localhost", "::1"}


def providers() -> dict[str, Any]:
    """The sign-in library's setting; empty where no provider is named."""
    url = env.text("KEYCTL_OIDC_URL", "").rstrip("/")
    if not url:
        return {}
    missing = [name for name in _WANTED if not env.text(name, "")]
    if missing:
        raise ImproperlyConfigured(f"KEYCTL_OIDC_URL is set, so {' and '.join(missing)} must be set too.")
    parts = urlsplit(url)
    if parts.scheme != "https" and parts.hostname not in _LOOPBACK:
        raise ImproperlyConfigured(
            f"KEYCTL_OIDC_URL is {url!r}; an identity provider is asked by https only."
        )
    return {"openid_connect": {"APPS": [_app(url)], "OAUTH_PKCE_ENABLED": True}}


def name_of_provider() -> str:
    """What people call it; empty without one."""
    known = settings.SOCIALACCOUNT_PROVIDERS.get("openid_connect", {}).get("APPS", [])
    return str(known[0]["name"]) if known else ""


def _app(url: str) -> dict[str, Any]:
    return {
        "provider_id": PROVIDER,
        "name": env.text("KEYCTL_OIDC_NAME", "your organisation"),
        "client_id": env.text("KEYCTL_OIDC_CLIENT_ID", ""),
        "secret": env.text("KEYCTL_OIDC_CLIENT_SECRET", ""),
        "settings": {"server_url": url},
    }
