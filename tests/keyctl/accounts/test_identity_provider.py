"""Signing in by an identity provider: who is let in, and every answer that is not believed.

The rules are those of OpenID Connect Core 1.0, section 3.1.3.7 (ID tokens) and 5.3.2 (userinfo).
"""

import base64
import hashlib
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from allauth.socialaccount.models import SocialAccount
from cryptography.hazmat.primitives.asymmetric.rsa import generate_private_key
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from pytest_django import Settings

from keyctl.accounts.fresh import PROOFS
from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.lib import oidc
from tests.cast import Cast
from tests.keyctl.accounts.codes import SECOND, add_app, next_code
from tests.keyctl.accounts.identity import CLIENT, SECRET, Identity, served

URL, START, BACK = "/account/sign-in/", "/account/sign-in/provider/", "/account/sign-in/provider/back/"


@pytest.fixture(scope="module")
def server() -> Iterator[Identity]:
    with served() as identity:
        yield identity


@pytest.fixture
def identity(server: Identity, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Identity:
    server.forget()
    facts = {"URL": server.url, "CLIENT_ID": CLIENT, "CLIENT_SECRET": SECRET, "NAME": "the organisation"}
    for name, value in facts.items():
        monkeypatch.setenv(f"KEYCTL_OIDC_{name}", value)
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    settings.SOCIALACCOUNT_PROVIDERS = oidc.providers()
    server.claims = {"sub": "s-17", "email": "auditor@example.org", "email_verified": True}
    return server


@pytest.fixture
def auditor(cast: Cast) -> User:
    cast.auditor.email = "Auditor@Example.org"
    cast.auditor.save()
    return cast.auditor


def led(client: Client, **facts: str) -> dict[str, str]:
    """What the browser is led to the provider with."""
    answer = client.post(START, facts)
    assert answer.status_code == 200
    address = answer.headers["Refresh"].removeprefix("0; url=")
    return {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}


def sign_in(client: Client, identity: Identity, **facts: str) -> Any:
    asked = led(client, **facts)
    identity.claims.setdefault("nonce", asked["nonce"])
    return client.get(BACK, {"code": "c", "state": asked["state"]})


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_a_verified_address_lets_a_known_person_in(client: Client, identity: Identity, auditor: User) -> None:
    assert sign_in(client, identity, next="/systems/").headers["Location"] == "/systems/"
    assert client.session["_auth_user_id"] == str(auditor.pk)
    assert Event.objects.filter(verb="account.signed_in", sentence__contains="organisation").exists()


def test_the_code_is_exchanged_with_the_verifier_of_this_very_browser(
    client: Client, identity: Identity, auditor: User
) -> None:
    """RFC 7636, 4.6: the challenge is the digest of the verifier."""
    asked = led(client)
    identity.claims["nonce"] = asked["nonce"]
    client.get(BACK, {"code": "c", "state": asked["state"]})
    (exchange,) = identity.asked
    digest = hashlib.sha256(exchange["code_verifier"][0].encode()).digest()
    assert asked["code_challenge_method"] == "S256"
    assert asked["code_challenge"] == base64.urlsafe_b64encode(digest).rstrip(b"=").decode()
    assert (exchange["code"], asked["max_age"]) == (["c"], "300")


def test_the_next_time_the_subject_alone_decides(client: Client, identity: Identity, auditor: User) -> None:
    sign_in(client, identity)
    identity.claims |= {"email": "another@example.org", "email_verified": False, "nonce": None}
    identity.claims.pop("nonce")
    other = Client()
    sign_in(other, identity)
    assert other.session["_auth_user_id"] == str(auditor.pk)
    kept = SocialAccount.objects.get()
    assert "s-17" not in kept.uid
    assert kept.extra_data == {}


NOT_LET_IN: dict[str, dict[str, Any]] = {
    "an unknown person": {"email": "stranger@example.org"},
    "no address": {"email": None},
    "an address that is not verified": {"email_verified": False},
    "an address of which nothing is said": {"email_verified": None},
    "another audience": {"aud": "another-client"},
    "several audiences, none of them the asking one": {"aud": [CLIENT, "another"], "azp": "another"},
    "several audiences, the asking one unsaid": {"aud": [CLIENT, "another"]},
    "no audience": {"aud": None},
    "another issuer": {"iss": "https://elsewhere.example"},
    "expired": {"exp": int(time.time()) - 120},
    "without an end": {"exp": None},
    "from the future": {"iat": int(time.time()) + 3600, "nbf": int(time.time()) + 3600},
    "another sign-in's nonce": {"nonce": "of another sign-in"},
    "no subject": {"sub": None},
    "asked long ago": {"auth_time": int(time.time()) - 3600},
    "asked nobody knows when": {"auth_time": None},
}


@pytest.mark.parametrize("case", NOT_LET_IN)
def test_it_lets_nobody_in(client: Client, identity: Identity, auditor: User, case: str) -> None:
    identity.claims |= NOT_LET_IN[case]
    assert sign_in(client, identity).headers["Location"] == URL
    assert not is_in(client)
    assert not SocialAccount.objects.exists()


def test_another_key_signs_nothing(client: Client, identity: Identity, auditor: User) -> None:
    identity.signs_with = generate_private_key(public_exponent=65537, key_size=2048)
    sign_in(client, identity)
    assert not is_in(client)


@pytest.mark.parametrize(
    "header", [{"alg": "none"}, {"alg": "HS256", "kid": "k1"}, {"alg": "RS256", "kid": "k2"}]
)
def test_no_signature_another_kind_and_an_unknown_key_sign_nothing(
    client: Client, identity: Identity, auditor: User, header: dict[str, str]
) -> None:
    identity.header = header
    identity.signs_with = None if header["alg"] == "none" else identity.key
    sign_in(client, identity)
    assert not is_in(client)


def test_an_address_of_two_people_is_nobodys(
    client: Client, identity: Identity, auditor: User, cast: Cast
) -> None:
    User.objects.filter(pk=cast.officer.pk).update(email="auditor@example.org")
    sign_in(client, identity)
    assert not is_in(client)


def test_a_second_subject_of_the_same_address_is_not_let_in(
    client: Client, identity: Identity, auditor: User
) -> None:
    """The address may have passed to somebody else."""
    sign_in(client, identity)
    identity.claims |= {"sub": "s-18"}
    identity.claims.pop("nonce")
    sign_in(other := Client(), identity)
    assert not is_in(other)


def test_who_has_left_is_not_let_in(client: Client, identity: Identity, auditor: User) -> None:
    sign_in(client, identity)
    User.objects.filter(pk=auditor.pk).update(is_active=False)
    identity.claims.pop("nonce")
    sign_in(other := Client(), identity)
    assert not is_in(other)


def test_the_second_factor_is_asked_for_here_too(client: Client, identity: Identity, cast: Cast) -> None:
    User.objects.filter(pk=cast.auditor.pk).update(email="auditor@example.org")
    secret = add_app(Client(), cast.auditor)
    assert sign_in(client, identity, next="/systems/").headers["Location"] == SECOND
    assert not is_in(client)
    assert client.post(SECOND, {"code": next_code(secret)}).headers["Location"] == "/systems/"


def test_who_signs_in_there_proves_themselves_there(
    client: Client, identity: Identity, auditor: User
) -> None:
    auditor.set_unusable_password()
    auditor.save()
    sign_in(client, identity)
    session = client.session
    session[PROOFS] = [{"method": "socialaccount", "at": time.time() - 400}]
    session.save()
    add = "/account/factors/app/"
    page = client.get(add, follow=True)
    assert page.context["by_provider"] == "the organisation"
    identity.claims.pop("nonce")
    assert sign_in(client, identity, next=page.context["next"]).headers["Location"] == add
    assert client.get(add).status_code == 200


def test_an_address_told_apart_counts_for_the_same_subject_alone(
    client: Client, identity: Identity, auditor: User
) -> None:
    identity.claims |= {"email": None, "email_verified": None}
    identity.told = {"sub": "s-99", "email": auditor.email, "email_verified": True}
    sign_in(client, identity)
    assert not is_in(client)
    identity.told["sub"] = "s-17"
    identity.claims.pop("nonce")
    sign_in(client, identity)
    assert is_in(client)


@pytest.mark.parametrize("document", [{"issuer": "https://elsewhere.example"}, {"jwks_uri": None}])
def test_a_provider_that_is_another_than_the_settings_name_is_not_asked(
    client: Client, identity: Identity, auditor: User, document: dict[str, Any]
) -> None:
    identity.document = document
    assert client.post(START).headers["Location"] == URL


@pytest.mark.parametrize(
    "facts", [{}, {"code": "c"}, {"code": "c", "state": "of nobody"}, {"error": "denied"}]
)
def test_an_answer_that_nobody_asked_for_lets_nobody_in(
    client: Client, identity: Identity, auditor: User, facts: dict[str, str]
) -> None:
    assert client.get(BACK, facts).headers["Location"] == URL
    assert not is_in(client)


def test_one_browsers_answer_opens_no_other(client: Client, identity: Identity, auditor: User) -> None:
    asked = led(client)
    identity.claims["nonce"] = asked["nonce"]
    other = Client()
    other.get(BACK, {"code": "c", "state": asked["state"]})
    assert not is_in(other)


def test_without_a_provider_there_is_no_such_page(client: Client, db: None) -> None:
    assert client.post(START).status_code == 404
    assert client.get(BACK).status_code == 404
    assert START not in client.get(URL).content.decode()


@pytest.mark.parametrize(
    "facts",
    [{"URL": "https://id.example"}, {"URL": "http://id.example", "CLIENT_ID": "a", "CLIENT_SECRET": "b"}],
)
def test_half_a_provider_and_one_in_the_open_stop_the_start(
    facts: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in facts.items():
        monkeypatch.setenv(f"KEYCTL_OIDC_{name}", value)
    with pytest.raises(ImproperlyConfigured):
        oidc.providers()
