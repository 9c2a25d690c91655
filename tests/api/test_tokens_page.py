"""The page of the tokens: for administrators, and the secret on one answer only."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.api.forms import in_a_year
from keyctl.api.models import Token
from tests.api.client import Api
from tests.cast import Cast

PAGE = "/api/tokens/"


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def facts(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {
        "name": "Room booking",
        "sites": [str(cast.north.pk)],
        "scopes": ["estate:read"],
        "expires_on": "2099-12-31",
    } | changed


def shown_secret(response: Any) -> str:
    found = re.search(r"kc_\w{8}_[0-9a-f]{64}", response.content.decode())
    assert found
    return found[0]


def test_it_asks_to_sign_in(db: None) -> None:
    assert Client().get(PAGE).status_code == 302


@pytest.mark.parametrize(
    "who", ["locksmith", "desk", "manager", "officer", "auditor", "requester", "stranger"]
)
def test_it_is_denied_to_everybody_but_administrators(cast: Cast, who: str) -> None:
    assert signed_in(cast.everybody[who]).get(PAGE).status_code == 403


def test_it_says_what_will_stand_there(cast: Cast) -> None:
    assert "No tokens yet" in signed_in(cast.administrator).get(PAGE).content.decode()


def test_it_offers_only_the_sites_one_administers(cast: Cast) -> None:
    page = signed_in(cast.administrator).get(PAGE).content.decode()
    assert "North site" in page
    assert "South site" not in page


def test_the_last_day_stands_in_the_form_as_a_browser_reads_it(cast: Cast) -> None:
    page = signed_in(cast.administrator).get(PAGE).content.decode()
    assert f'value="{in_a_year().isoformat()}"' in page  # HTML: a date input takes only YYYY-MM-DD


def test_a_new_token_works_as_it_is_shown(cast: Cast) -> None:
    response = signed_in(cast.administrator).post(PAGE, facts(cast))
    assert Api(shown_secret(response)).get("sites/").status_code == 200


def test_the_answer_that_shows_it_is_kept_in_no_cache(cast: Cast) -> None:
    response = signed_in(cast.administrator).post(PAGE, facts(cast))
    assert "no-store" in response["Cache-Control"]


def test_the_list_shows_its_beginning_but_never_the_secret(cast: Cast) -> None:
    client = signed_in(cast.administrator)
    secret = shown_secret(client.post(PAGE, facts(cast)))
    page = client.get(PAGE).content.decode()
    assert f"kc_{Token.objects.get().prefix}" in page
    assert secret.split("_")[2] not in page


def test_a_site_one_does_not_administer_is_no_choice(cast: Cast) -> None:
    response = signed_in(cast.administrator).post(PAGE, facts(cast, sites=[str(cast.south.pk)]))
    assert response.status_code == 422
    assert not Token.objects.exists()


def test_what_the_service_refuses_stands_in_the_form(cast: Cast) -> None:
    response = signed_in(cast.administrator).post(PAGE, facts(cast, expires_on="2001-01-01"))
    assert response.status_code == 422
    assert "over already" in response.content.decode()
    assert 'value="Room booking"' in response.content.decode()


def test_a_button_revokes_it(cast: Cast, api: Api) -> None:
    url = reverse("api:revoke-token", args=[Token.objects.get().pk])
    page = signed_in(cast.administrator).post(url, follow=True).content.decode()
    assert "no longer works" in page
    assert api.get("sites/").status_code == 401


def test_a_token_of_another_site_is_not_found(cast: Cast, foreign: Api) -> None:
    url = reverse("api:revoke-token", args=[Token.objects.get().pk])
    assert signed_in(cast.administrator).post(url).status_code == 404
    assert foreign.get("sites/").status_code == 200


def test_following_a_link_does_not_revoke(cast: Cast, api: Api) -> None:
    url = reverse("api:revoke-token", args=[Token.objects.get().pk])
    assert signed_in(cast.administrator).get(url).status_code == 405


def test_the_list_of_many_costs_as_much_as_of_few(cast: Cast, django_assert_max_num_queries: Any) -> None:
    client = signed_in(cast.administrator)
    for _ in range(12):
        client.post(PAGE, facts(cast))
    with django_assert_max_num_queries(12):
        assert client.get(PAGE).content.decode().count("kc_") == 12
