"""Proving once more who one is, for pages that ask for a sign-in of the last five minutes."""

from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import include, path

from keyctl.accounts.fresh import PROOFS, fresh_sign_in
from keyctl.lib.policy import Policy, declared
from keyctl.places import policing
from tests.cast import Cast
from tests.factories import PASSWORD
from tests.signing import sign_in

PROVE = "/account/prove/"
SHOW = "/shown/?of=K1"


def shown(request: HttpRequest) -> HttpResponse:
    fresh_sign_in(request)
    return HttpResponse("shown")


# A page that asks for a fresh sign-in, beside all pages of the product.
urlpatterns = [path("shown/", shown, name="shown"), path("", include("keyctl.urls"))]
pytestmark = pytest.mark.urls(__name__)


@pytest.fixture(autouse=True)
def policies(monkeypatch: pytest.MonkeyPatch) -> None:
    open_to_all = declared() | {"shown": Policy.for_signed_in("GET", "POST")}
    monkeypatch.setattr(policing, "declared", lambda: open_to_all)


def test_a_fresh_sign_in_is_let_through(client: Client, cast: Cast) -> None:
    assert sign_in(client, cast.locksmith, ago=290).get(SHOW).content == b"shown"


@pytest.mark.parametrize("ago", [301, 100_000, -60])
def test_an_old_one_is_led_to_a_proof(client: Client, cast: Cast, ago: float) -> None:
    answer = sign_in(client, cast.locksmith, ago=ago).get(SHOW)
    assert answer.headers["Location"] == f"{PROVE}?next=%2Fshown%2F%3Fof%3DK1"


def test_a_session_without_any_proof_is_led_there_too(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    assert client.get(SHOW).headers["Location"].startswith(PROVE)


def test_another_persons_proof_in_the_session_is_none(client: Client, cast: Cast) -> None:
    proofs = sign_in(client, cast.officer).session[PROOFS]
    client.force_login(cast.locksmith)
    session = client.session
    session[PROOFS] = proofs
    session.save()
    assert client.get(SHOW).headers["Location"].startswith(PROVE)


@pytest.mark.parametrize(
    ("referer", "back"),
    [
        ("http://testserver/cores/?q=a#here", "/cores/?q=a"),
        ("https://elsewhere.example/cores/", "/"),
        ("", "/"),
    ],
)
def test_what_was_sent_leads_back_to_the_page_it_stood_on(
    client: Client, cast: Cast, referer: str, back: str
) -> None:
    answer = sign_in(client, cast.locksmith, ago=400).post(SHOW, headers={"Referer": referer}, follow=True)
    assert answer.context["next"] == back


def test_htmx_goes_there_as_a_whole_page(client: Client, cast: Cast) -> None:
    here = {"HX-Request": "true", "HX-Current-URL": "http://testserver/cores/"}
    answer = sign_in(client, cast.locksmith, ago=400).post(SHOW, headers=here)
    assert answer.headers["HX-Redirect"] == f"{PROVE}?next=%2Fcores%2F"


@pytest.mark.parametrize("facts", [{"Accept": "application/json"}, {"Sec-Fetch-Dest": "empty"}])
def test_a_program_is_told_in_problem_details(client: Client, cast: Cast, facts: dict[str, str]) -> None:
    answer = sign_in(client, cast.locksmith, ago=400).get(SHOW, headers=facts)
    assert answer.status_code == 401
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["title"] == "Unauthorized"
    assert "five minutes" in answer.json()["detail"]


def test_the_password_proves_and_leads_back(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith, ago=400)
    before = client.cookies["session"].value
    answer = client.post(PROVE, {"password": PASSWORD, "next": SHOW})
    assert answer.headers["Location"] == SHOW
    assert client.get(SHOW).content == b"shown"
    assert client.cookies["session"].value != before


def test_the_old_key_of_the_session_is_worth_nothing_after(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith, ago=400)
    thief = Client()
    thief.cookies["session"] = client.cookies["session"].value
    client.post(PROVE, {"password": PASSWORD})
    assert thief.get(SHOW).headers["Location"].startswith("/account/sign-in/")


@pytest.mark.parametrize(
    "address", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"]
)
def test_it_never_leads_to_another_host(client: Client, cast: Cast, address: str) -> None:
    answer = sign_in(client, cast.locksmith).post(PROVE, {"password": PASSWORD, "next": address})
    assert answer.headers["Location"] == "/"


def test_a_wrong_password_proves_nothing(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith, ago=400)
    assert client.post(PROVE, {"password": "wrong", "next": SHOW}).status_code == 422
    assert client.get(SHOW).headers["Location"].startswith(PROVE)


def test_a_colleagues_password_proves_nothing(client: Client, cast: Cast) -> None:
    cast.officer.set_password("another phrase here")
    cast.officer.save()
    sign_in(client, cast.locksmith, ago=400)
    assert client.post(PROVE, {"password": "another phrase here"}).status_code == 422


def test_tries_come_to_an_end(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith, ago=400)
    codes: list[Any] = [client.post(PROVE, {"password": f"wrong {n}"}).status_code for n in range(7)]
    assert codes == [422] * 5 + [429] * 2
    assert client.post(PROVE, {"password": PASSWORD}).status_code == 429
