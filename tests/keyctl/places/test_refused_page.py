"""A refusal that no form caught."""

import pytest
from django.test import Client

from keyctl.lib.errors import Conflict, Refused
from tests.cast import Cast


def refuse(refusal: Refused, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise refusal

    monkeypatch.setattr("keyctl.cores.views.estate.estate_sites", fail)


def test_it_is_a_page_with_every_reason(client: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    refuse(Refused("The shelf is full.", reasons=["Shelf 1 is full.", "Shelf 2 is full."]), monkeypatch)
    client.force_login(cast.locksmith)
    answer = client.get("/estate/")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert all(words in page for words in ("The shelf is full.", "Shelf 1 is full.", "Shelf 2 is full."))


def test_a_lost_race_answers_409(client: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    refuse(Conflict("Somebody was first."), monkeypatch)
    client.force_login(cast.locksmith)
    assert client.get("/estate/").status_code == 409


def test_htmx_gets_the_sentence_without_a_second_page(
    client: Client, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    refuse(Refused("The shelf is full."), monkeypatch)
    client.force_login(cast.locksmith)
    page = client.get("/estate/", headers={"HX-Request": "true"}).content.decode()
    assert "The shelf is full." in page
    assert "<html" not in page
