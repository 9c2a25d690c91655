"""A NUL is no text: PostgreSQL takes none, so no page hands one on. Tried where no form reads the texts."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.keys.models import Holder
from tests.cast import Cast

NUL = "Ann\x00Bell"


@pytest.mark.parametrize("name", ["keys:desk", "keys:register", "directory:list", "counts:list"])
@pytest.mark.parametrize("part", ["q", "page", "show", NUL])
def test_no_search_looks_for_it(cast: Cast, client: Client, name: str, part: str) -> None:
    client.force_login(cast.desk)
    response = client.get(reverse(name), {part: NUL})
    assert response.status_code == 400
    assert "holds signs that are no text" in response.content.decode()


@pytest.mark.parametrize(
    "facts", [{"text": NUL}, {"text": "x", "way": NUL}, {"text": "x", "other": ["a", NUL]}]
)
@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}])
def test_no_scan_is_read_with_it(
    cast: Cast, client: Client, facts: dict[str, Any], headers: dict[str, str]
) -> None:
    client.force_login(cast.desk)
    response = client.post(reverse("desk:add", args=[cast.north.pk]), facts, headers=headers)
    assert response.status_code == 400


def test_nothing_is_written_with_it(cast: Cast, client: Client) -> None:
    client.force_login(cast.desk)
    address = reverse("keys:new-holder", args=[cast.north.pk])
    assert client.post(address, {"name": NUL}).status_code == 400
    assert not Holder.objects.exists()


def test_who_is_not_signed_in_is_told_as_well(db: None, client: Client) -> None:
    address = reverse("accounts:sign-in")
    assert client.post(address, {"username": NUL, "password": "x"}).status_code == 400
    assert client.get(address, {"next": NUL}).status_code == 400


def test_other_signs_are_text(cast: Cast, client: Client) -> None:
    client.force_login(cast.desk)
    assert client.get(reverse("keys:desk"), {"q": "Zoë\t⚿ 好"}).status_code == 200
