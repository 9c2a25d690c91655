"""The page where security officers let programs read pins for a while."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.api.models import PinningWindow, Scope, Token
from keyctl.api.services import create_token
from tests.cast import Cast
from tests.signing import sign_in


@pytest.fixture
def token(cast: Cast) -> Token:
    return create_token(
        actor=cast.administrator,
        name="Key machine",
        sites=[cast.north],
        scopes=[Scope.PINNING_READ],
        networks="192.0.2.7",
        expires_on=timezone.localdate() + timedelta(days=20),
    )[0]


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    return sign_in(client, cast.officer)


def page(client: Client) -> str:
    text: str = client.get(reverse("api:windows")).content.decode()
    return text


def send(client: Client, token: Token, **facts: Any) -> Any:
    given = {"minutes": 30, "reason": "New cores for House 4"} | facts
    return client.post(reverse("api:open-window", args=[token.pk]), given)


def test_an_officer_opens_a_window_and_shuts_it(officer: Client, token: Token) -> None:
    assert "Open a window" in page(officer)
    assert "192.0.2.7/32" in officer.get(reverse("api:open-window", args=[token.pk])).content.decode()
    assert send(officer, token)["Location"] == reverse("api:windows")
    window = PinningWindow.objects.get()
    assert (window.until - window.opened_at).seconds // 60 in {29, 30}
    assert "New cores for House 4" in page(officer)
    assert "Open a window" not in page(officer)
    officer.post(reverse("api:close-window", args=[token.pk]))
    window.refresh_from_db()
    assert not window.is_open
    assert "Open a window" in page(officer)


def test_what_is_refused_stands_on_the_page(officer: Client, token: Token) -> None:
    assert send(officer, token, reason="").status_code == 422
    assert send(officer, token, minutes=600).status_code == 422
    assert not PinningWindow.objects.exists()


def test_an_old_sign_in_leads_to_a_new_proof(client: Client, cast: Cast, token: Token) -> None:
    old = sign_in(client, cast.officer, ago=600)
    assert send(old, token).status_code != 200
    assert not PinningWindow.objects.exists()


def test_other_tokens_stand_on_no_page_for_pins(officer: Client, cast: Cast) -> None:
    other, _ = create_token(
        actor=cast.administrator,
        name="Room booking",
        sites=[cast.north],
        scopes=[Scope.ESTATE_READ],
        expires_on=timezone.localdate(),
    )
    assert "Room booking" not in page(officer)
    assert send(officer, other).status_code == 404


def test_the_way_there_is_on_the_page_of_looks(officer: Client) -> None:
    assert reverse("api:windows") in officer.get(reverse("reveals:home")).content.decode()


def test_a_token_that_is_over_is_not_opened(officer: Client, token: Token) -> None:
    Token.objects.update(revoked_at=timezone.now())
    assert "The token is over" in page(officer)
    assert send(officer, token).status_code == 422
