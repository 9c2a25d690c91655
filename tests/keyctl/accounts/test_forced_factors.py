"""Roles that see bittings, or decide on keys that open much, have a second factor; nothing is open before."""

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client
from pytest_django import Settings

from keyctl.accounts.factors import has_second_factor, lacks_second_factor
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.keyctl.accounts.codes import add_app
from tests.signing import sign_in

FACTORS = "/account/factors/"
FORCED = ["locksmith", "manager", "officer", "administrator"]
FREE = ["desk", "auditor", "requester"]
FIELD = ["/field/pack/", "/field/events/", "/field/lookup/"]


@pytest.fixture(autouse=True)
def forced(settings: Settings) -> None:
    settings.SECOND_FACTOR = "forced"


@pytest.mark.parametrize("name", FORCED)
def test_these_are_led_to_adding_one_from_every_page(client: Client, cast: Cast, name: str) -> None:
    sign_in(client, getattr(cast, name))
    for page in ("/", "/systems/", "/account/me/", "/account/sessions/", "/design/"):
        assert client.get(page).headers["Location"] == FACTORS
    assert client.post("/requests/").headers["Location"] == FACTORS


@pytest.mark.parametrize("name", FORCED)
def test_the_way_to_one_is_open_to_them(client: Client, cast: Cast, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.get(FACTORS).status_code == 200
    add_app(client, getattr(cast, name))
    assert client.get("/account/me/").status_code == 200


@pytest.mark.parametrize("name", FREE)
def test_others_need_none(client: Client, cast: Cast, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.get("/account/me/").status_code == 200


@pytest.mark.parametrize("name", FORCED)
def test_where_they_are_only_offered_everything_is_open(
    client: Client, cast: Cast, name: str, settings: Settings
) -> None:
    settings.SECOND_FACTOR = "offered"
    sign_in(client, getattr(cast, name))
    assert client.get("/account/me/").status_code == 200


def test_the_tablet_is_told_and_not_led(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    for address in FIELD:
        answer = client.get(address, headers={"Sec-Fetch-Dest": "empty"})
        assert answer.status_code == 403
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert "second factor" in answer.json()["detail"]


def test_htmx_goes_there_as_a_whole_page(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/systems/", headers={"HX-Request": "true"}).headers["HX-Redirect"] == FACTORS


def test_they_may_still_sign_out(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    assert client.post("/account/sign-out/").headers["Location"] == "/account/sign-in/"


def test_the_last_one_cannot_be_taken_away(client: Client, cast: Cast) -> None:
    add_app(client, cast.officer)
    answer = client.post("/account/factors/remove/", {"factor": Authenticator.objects.get(type="totp").pk})
    assert answer.status_code == 422
    assert has_second_factor(cast.officer)


def test_a_new_role_forces_one_from_the_next_page_on(client: Client, cast: Cast) -> None:
    sign_in(client, cast.desk)
    assert client.get("/account/me/").status_code == 200
    Membership.objects.create(user=cast.desk, site=cast.south, role=Role.LOCKSMITH)
    assert lacks_second_factor(cast.desk)
    assert client.get("/account/me/").headers["Location"] == FACTORS
