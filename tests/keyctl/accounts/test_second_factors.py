"""Apps for codes and recovery codes: added, used once, taken away; what the database holds of them."""

import base64
import json
import time

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth
from cryptography.exceptions import InvalidTag
from django.test import Client, override_settings

from keyctl.accounts import sealing
from keyctl.accounts.models import User
from keyctl.audit.models import Event
from tests.cast import Cast
from tests.factories import PASSWORD
from tests.keyctl.accounts.codes import APP, CODES, SECOND, add_app, code_of, make_codes, next_code, secret_on
from tests.signing import sign_in

URL = "/account/sign-in/"
FACTORS = "/account/factors/"
# RFC 6238, appendix B: the seconds, and the eight digits for SHA-1 and the secret of twenty digits.
PUBLISHED_SECRET = b"12345678901234567890"
PUBLISHED = {
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}


@pytest.mark.parametrize(("at", "digits"), PUBLISHED.items())
def test_codes_are_those_that_the_standard_publishes(
    at: int, digits: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An app shows six digits: the last ones of the eight."""
    monkeypatch.setattr(auth.time, "time", lambda: at)
    secret = base64.b32encode(PUBLISHED_SECRET).decode()
    assert auth.validate_totp_code(secret, digits[2:])
    assert code_of(PUBLISHED_SECRET, at, 8) == digits


@pytest.mark.parametrize(("off", "taken"), [(-90, False), (-30, True), (0, True), (30, True), (90, False)])
def test_a_clock_may_be_half_a_minute_off(off: int, taken: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(auth.time, "time", lambda: 1234567890)
    secret = base64.b32encode(PUBLISHED_SECRET).decode()
    assert auth.validate_totp_code(secret, code_of(PUBLISHED_SECRET, 1234567890 + off)) is taken


def start(client: Client, name: str = "locksmith") -> None:
    answer = client.post(URL, {"username": name, "password": PASSWORD, "next": "/systems/"})
    assert answer.headers["Location"] == SECOND
    assert "_auth_user_id" not in client.session


def test_an_added_app_is_asked_for_at_the_next_sign_in(client: Client, cast: Cast) -> None:
    secret = add_app(client, cast.locksmith)
    client.post("/account/sign-out/")
    start(client)
    assert client.get(SECOND).status_code == 200
    assert client.post(SECOND, {"code": next_code(secret)}).headers["Location"] == "/systems/"
    assert client.session["_auth_user_id"] == str(cast.locksmith.pk)


def test_a_code_holds_once(client: Client, cast: Cast) -> None:
    secret, other = add_app(client, cast.locksmith), Client()
    code = next_code(secret)
    start(other)
    assert other.post(SECOND, {"code": code}).status_code == 302
    start(third := Client())
    assert third.post(SECOND, {"code": code}).status_code == 200
    assert "_auth_user_id" not in third.session


def test_the_code_that_added_the_app_holds_no_more(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    secret = secret_on(client.get(APP))
    code = code_of(secret, time.time())
    client.post(APP, {"code": code})
    start(other := Client())
    assert other.post(SECOND, {"code": code}).status_code == 200


def test_a_password_alone_opens_nothing(client: Client, cast: Cast) -> None:
    add_app(client, cast.locksmith)
    start(other := Client())
    for page in ("/", FACTORS, "/account/me/", "/systems/"):
        assert other.get(page).headers["Location"].startswith(URL)


def test_the_second_step_without_the_first_leads_to_the_first(client: Client, cast: Cast) -> None:
    assert client.get(SECOND).headers["Location"] == URL


def test_who_leaves_between_password_and_code_is_not_let_in(client: Client, cast: Cast) -> None:
    secret = add_app(client, cast.locksmith)
    start(other := Client())
    User.objects.filter(pk=cast.locksmith.pk).update(is_active=False)
    assert other.post(SECOND, {"code": next_code(secret)}).headers["Location"] == URL
    assert "_auth_user_id" not in other.session
    assert not Event.objects.filter(verb="account.signed_in").exists()


def test_wrong_codes_come_to_an_end(client: Client, cast: Cast) -> None:
    secret = add_app(client, cast.locksmith)
    start(other := Client())
    assert [other.post(SECOND, {"code": f"{n:06}"}).status_code for n in range(6)] == [200] * 5 + [429]
    assert other.post(SECOND, {"code": next_code(secret)}).status_code == 429
    assert Event.objects.filter(verb="account.sign_in_held_up").count() == 1


def test_a_wrong_code_adds_no_app(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    secret = secret_on(client.get(APP))
    answer = client.post(APP, {"code": code_of(secret, time.time() + 600)})
    assert answer.status_code == 422
    assert secret_on(answer) == secret
    assert not Authenticator.objects.exists()


def test_adding_one_wants_a_fresh_sign_in(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith, ago=400)
    for page in (APP, "/account/factors/passkey/", CODES):
        assert client.get(page).headers["Location"].startswith("/account/prove/")


def test_adding_one_ends_other_sessions_and_changes_the_key_of_this(client: Client, cast: Cast) -> None:
    elsewhere = sign_in(Client(), cast.locksmith)
    sign_in(client, cast.locksmith)
    before = client.cookies["session"].value
    add_app(client, cast.locksmith)
    assert client.cookies["session"].value != before
    assert client.get(FACTORS).status_code == 200
    assert elsewhere.get(FACTORS).headers["Location"].startswith(URL)


def test_nothing_in_the_database_is_the_secret(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    typed = client.get(APP).context["secret"].replace(" ", "")
    assert typed not in json.dumps(dict(client.session))
    secret = secret_on(client.get(APP))
    client.post(APP, {"code": code_of(secret, time.time())})
    make_codes(client)
    kept = json.dumps([one.data for one in Authenticator.objects.all()])
    assert typed not in kept
    assert secret.hex() not in kept


def test_what_is_sealed_opens_under_its_own_secret_key_alone() -> None:
    with override_settings(SECRET_KEY="an older one"):
        sealed = sealing.seal("words")
    with override_settings(SECRET_KEY="a newer one", SECRET_KEY_FALLBACKS=["an older one"]):
        assert sealing.unseal(sealed) == "words"
    with override_settings(SECRET_KEY="a newer one"), pytest.raises(InvalidTag):
        sealing.unseal(sealed)


def test_a_recovery_code_stands_in_once(client: Client, cast: Cast) -> None:
    add_app(client, cast.locksmith)
    codes = make_codes(client)
    assert len(set(codes)) == 10
    start(other := Client())
    assert other.post(SECOND, {"code": codes[3]}).status_code == 302
    start(third := Client())
    assert third.post(SECOND, {"code": codes[3]}).status_code == 200


def test_new_recovery_codes_end_the_old_ones_and_none_are_shown_again(client: Client, cast: Cast) -> None:
    add_app(client, cast.locksmith)
    old, new = make_codes(client), make_codes(client)
    assert not set(old) & set(new)
    page = client.get(CODES).content.decode().replace(" ", "")
    assert not [code for code in (*old, *new) if code in page]
    start(other := Client())
    assert other.post(SECOND, {"code": old[0]}).status_code == 200


def test_recovery_codes_alone_are_no_factor(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    assert client.post(CODES).status_code == 422


def test_the_last_factor_takes_the_recovery_codes_along(client: Client, cast: Cast) -> None:
    add_app(client, cast.locksmith)
    make_codes(client)
    app = Authenticator.objects.get(type="totp")
    client.post("/account/factors/remove/", {"factor": app.pk})
    assert not Authenticator.objects.exists()


def test_nobody_takes_away_anothers(client: Client, cast: Cast) -> None:
    add_app(Client(), cast.locksmith)
    sign_in(client, cast.officer)
    app = Authenticator.objects.get(type="totp")
    assert client.post("/account/factors/remove/", {"factor": app.pk}).status_code == 422
    assert Authenticator.objects.exists()


def test_history_tells_of_all_of_it_and_holds_no_code(client: Client, cast: Cast) -> None:
    secret = add_app(client, cast.locksmith)
    codes = make_codes(client)
    client.post("/account/factors/remove/", {"factor": Authenticator.objects.get(type="totp").pk})
    told = list(Event.objects.order_by("at").values_list("verb", "sentence"))
    assert [verb for verb, _ in told][-3:] == [
        "account.factor_added",
        "account.recovery_codes_made",
        "account.factor_removed",
    ]
    assert not [code for code in (*codes, secret.hex()) if code in str(told)]
