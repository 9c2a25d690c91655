"""Signing in and out."""

import pytest
from django.test import Client

from tests.cast import Cast
from tests.factories import PASSWORD

URL = "/account/sign-in/"


def test_the_page_is_open_to_everybody(client: Client, db: None) -> None:
    assert client.get(URL).status_code == 200


def test_a_right_password_leads_to_the_page_one_wanted(client: Client, cast: Cast) -> None:
    facts = {"username": "auditor", "password": PASSWORD, "next": "/systems/"}
    assert client.post(URL, facts).headers["Location"] == "/systems/"


def test_a_wrong_password_is_refused_without_saying_what_was_wrong(client: Client, cast: Cast) -> None:
    wrong = client.post(URL, {"username": "auditor", "password": "wrong"}).context["form"]
    unknown = client.post(URL, {"username": "nobody", "password": "wrong"}).context["form"]
    assert list(wrong.non_field_errors()) == list(unknown.non_field_errors()) != []


def test_a_person_who_left_cannot_sign_in(client: Client, cast: Cast) -> None:
    cast.auditor.is_active = False
    cast.auditor.save(update_fields=["is_active"])
    assert client.post(URL, {"username": "auditor", "password": PASSWORD}).status_code == 200
    assert "_auth_user_id" not in client.session


@pytest.mark.parametrize(
    "address",
    ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "/\\elsewhere.example"],
)
def test_it_never_leads_to_another_host(client: Client, cast: Cast, address: str) -> None:
    facts = {"username": "auditor", "password": PASSWORD, "next": address}
    assert client.post(URL, facts).headers["Location"] == "/"


def test_an_expired_session_asks_htmx_for_the_whole_page(client: Client, cast: Cast) -> None:
    here = {"HX-Request": "true", "HX-Current-URL": "http://testserver/estate/?q=a"}
    answer = client.get("/estate/?q=ab", headers=here, follow=True)
    assert answer.headers["HX-Redirect"] == "/account/sign-in/?next=%2Festate%2F%3Fq%3Da"


def test_signing_out_needs_a_post(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    assert client.get("/account/sign-out/").status_code == 405
    client.post("/account/sign-out/")
    assert "_auth_user_id" not in client.session
