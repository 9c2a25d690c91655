"""RFC 6750: every way in which a token can fail is a 401 with a challenge."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.api.credentials import Credential
from keyctl.api.models import Token
from tests.api.client import Api, problem
from tests.cast import Cast
from tests.factories import PASSWORD


def the_token() -> Token:
    return Token.objects.get()


def test_without_a_token_it_answers_401_and_says_how(db: None) -> None:
    response = Api().get("sites/")
    problem(response, 401, "not-authenticated")
    assert response["WWW-Authenticate"] == 'Bearer realm="keyctl"'


def test_a_live_token_lets_in(api: Api) -> None:
    assert api.get("sites/").status_code == 200


def test_a_wrong_secret_does_not(api: Api) -> None:
    wrong = Credential(the_token().prefix, "0" * 64)
    response = Api(wrong.text).get("sites/")
    assert "not known" in problem(response, 401, "not-authenticated")["detail"]
    assert response["WWW-Authenticate"] == 'Bearer realm="keyctl", error="invalid_token"'


@pytest.mark.parametrize("text", ["", "kc_", "kc_BCDF2345_", "kc_BCDF2345_" + "0" * 64, "kc_\x00_é", "x y z"])
def test_a_text_that_is_no_token_does_not(db: None, text: str) -> None:
    headers = {"authorization": f"Bearer {text}"}
    problem(Client().get("/api/v1/sites/", headers=headers), 401, "not-authenticated")


def test_another_scheme_does_not(api: Api) -> None:
    headers = {"authorization": f"Token {api.bearer}"}
    problem(Client().get("/api/v1/sites/", headers=headers), 401, "not-authenticated")


def test_the_scheme_is_read_in_any_case(api: Api) -> None:
    headers = {"authorization": f"bearer {api.bearer}"}  # RFC 9110, 11.1: case-insensitive
    assert Client().get("/api/v1/sites/", headers=headers).status_code == 200


def test_an_expired_token_does_not(api: Api) -> None:
    now = timezone.now()
    Token.objects.update(created_at=now - timedelta(days=2), expires_at=now - timedelta(seconds=1))
    assert "expired" in problem(api.get("sites/"), 401, "not-authenticated")["detail"]


def test_a_revoked_token_does_not(api: Api) -> None:
    Token.objects.update(revoked_at=timezone.now())
    assert "revoked" in problem(api.get("sites/"), 401, "not-authenticated")["detail"]


def test_the_state_of_a_token_is_not_told_to_who_lacks_its_secret(api: Api) -> None:
    Token.objects.update(revoked_at=timezone.now())
    wrong = Credential(the_token().prefix, "0" * 64)
    assert "not known" in problem(Api(wrong.text).get("sites/"), 401, "not-authenticated")["detail"]


def test_a_closed_account_does_not(api: Api) -> None:
    User.objects.filter(pk=the_token().user_id).update(is_active=False)
    problem(api.get("sites/"), 401, "not-authenticated")


def test_a_signed_in_persons_session_does_not(cast: Cast) -> None:
    client = Client()
    assert client.login(username="locksmith", password=PASSWORD)
    problem(client.get("/api/v1/sites/"), 401, "not-authenticated")


def test_a_site_taken_from_the_account_is_out_of_reach_at_once(api: Api) -> None:
    the_token().user.memberships.all().delete()
    assert api.ids("sites/") == []


def test_use_is_noted_at_most_once_a_minute(api: Api) -> None:
    api.get("sites/")
    first = the_token().last_used_at
    api.get("sites/")
    assert first is not None
    assert the_token().last_used_at == first


def test_use_is_noted_again_after_a_minute(api: Api) -> None:
    long_ago = timezone.now() - timedelta(seconds=61)
    Token.objects.update(last_used_at=long_ago)
    api.get("sites/")
    assert (the_token().last_used_at or long_ago) > long_ago


def test_a_failed_attempt_is_not_noted_as_use(api: Api) -> None:
    Api(Credential(the_token().prefix, "0" * 64).text).get("sites/")
    assert the_token().last_used_at is None
