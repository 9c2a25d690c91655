"""A token that is bound to networks works from there alone (the addresses of RFC 5737 and RFC 3849)."""

from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from pytest_django import Settings

from keyctl.api.forms import in_a_year
from keyctl.api.models import Scope, Token
from keyctl.api.services import create_token
from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.api.client import Api, make_api, problem
from tests.cast import Cast

BOUND = "192.0.2.0/24 2001:db8:7::/48"


@pytest.fixture
def bound(cast: Cast) -> Api:
    api = make_api(cast.administrator, cast.north)
    Token.objects.update(networks=BOUND)
    return api


def ask(api: Api, address: str, **headers: str) -> Any:
    client = Client(REMOTE_ADDR=address)
    return client.get("/api/v1/sites/", headers=api.headers | headers)


INSIDE = ["192.0.2.0", "192.0.2.255", "::ffff:192.0.2.7", "2001:db8:7::1", "2001:db8:7:ffff::1"]
OUTSIDE = ["192.0.3.0", "198.51.100.7", "2001:db8:8::1", "::1", "127.0.0.9"]


@pytest.mark.parametrize("address", INSIDE)
def test_it_works_from_inside(bound: Api, address: str) -> None:
    assert ask(bound, address).status_code == 200


@pytest.mark.parametrize("address", OUTSIDE)
def test_it_is_turned_away_from_outside(bound: Api, address: str) -> None:
    body = problem(ask(bound, address), 403, "foreign-network")
    assert address not in str(body)
    assert BOUND.split(maxsplit=1)[0] not in str(body)


def test_without_an_address_nobody_is_inside(bound: Api) -> None:
    problem(ask(bound, ""), 403, "foreign-network")


@pytest.mark.parametrize(("proxies", "status"), [(0, 403), (1, 200)])
def test_the_address_is_the_one_that_a_trusted_proxy_names(
    bound: Api, settings: Settings, proxies: int, status: int
) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = proxies
    said = {"x-forwarded-for": "198.51.100.1, 192.0.2.7"}
    assert ask(bound, "203.0.113.9", **said).status_code == status


def test_nobody_writes_their_own_address_before_the_proxy_s(bound: Api, settings: Settings) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    said = {"x-forwarded-for": "192.0.2.7, 198.51.100.1"}
    assert ask(bound, "203.0.113.9", **said).status_code == 403


def test_history_tells_of_it_once_an_hour_and_without_the_address(bound: Api) -> None:
    for address in OUTSIDE[:3]:
        ask(bound, address)
    (event,) = Event.objects.filter(verb="token.turned-away")
    assert "outside its networks" in event.sentence
    assert not [address for address in OUTSIDE if address in f"{event.sentence}{event.detail}"]


def test_a_wrong_secret_learns_nothing_of_the_networks(bound: Api) -> None:
    wrong = Api((bound.bearer or "")[:-1] + "x")
    problem(ask(wrong, OUTSIDE[0]), 401, "not-authenticated")
    assert not Event.objects.filter(verb="token.turned-away").exists()


def test_being_turned_away_is_no_use(bound: Api) -> None:
    ask(bound, OUTSIDE[0])
    assert Token.objects.get().last_used_at is None


def test_people_s_programs_are_bound_as_well(cast: Cast) -> None:
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    api = make_api(cast.administrator, cast.north, cast.south, scopes=[Scope.PEOPLE])
    Token.objects.update(networks=BOUND)
    users = "/scim/v2/Users"
    assert Client(REMOTE_ADDR="192.0.2.7").get(users, headers=api.headers).status_code == 200
    assert Client(REMOTE_ADDR="198.51.100.1").get(users, headers=api.headers).status_code == 403


def make(cast: Cast, networks: str) -> Token:
    facts: dict[str, Any] = {"name": "Bound", "sites": [cast.north], "scopes": [Scope.ESTATE_READ]}
    return create_token(actor=cast.administrator, expires_on=in_a_year(), networks=networks, **facts)[0]


def test_networks_are_kept_in_one_form(cast: Cast) -> None:
    assert make(cast, " 2001:DB8:0::/32,192.0.2.1  192.0.2.1 ").networks == "2001:db8::/32 192.0.2.1/32"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("192.0.2.7/24", "did you mean 192.0.2.0/24?"),
        ("2001:db8::1/32", "did you mean 2001:db8::/32?"),
        ("keys.example", "is no network"),
        ("192.0.2.0/33", "is no network"),
        (" ".join(f"192.0.2.{n}" for n in range(21)), "at most"),
    ],
)
def test_what_is_no_network_is_refused_with_the_remedy(cast: Cast, text: str, words: str) -> None:
    with pytest.raises(Refused) as caught:
        make(cast, text)
    assert words in str(caught.value)
    assert not Token.objects.exists()


def test_history_names_the_networks_of_a_new_token(cast: Cast) -> None:
    make(cast, "192.0.2.0/24")
    assert Event.objects.get(verb="token.made").sentence.endswith("from 192.0.2.0/24")


def test_the_page_takes_and_shows_them(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.administrator)
    facts = {
        "name": "Room booking",
        "sites": [str(cast.north.pk)],
        "scopes": ["estate:read", "estate:write"],
        "expires_on": "2099-12-31",
    }
    assert client.post("/api/tokens/", facts | {"networks": "192.0.2.9/24"}).status_code == 422
    assert client.post("/api/tokens/", facts | {"networks": "192.0.2.0/24"}).status_code == 200
    assert "192.0.2.0/24" in client.get("/api/tokens/").content.decode()


def test_the_command_takes_them(cast: Cast) -> None:
    words = ["--site", "NORTH", "--scope", "estate:write", "--network", "192.0.2.0/24", "--network", "::1"]
    call_command("api_token", "Night shift", *words)
    assert Token.objects.get().networks == "192.0.2.0/24 ::1/128"
