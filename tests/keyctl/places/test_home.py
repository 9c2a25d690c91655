"""The frame around every page."""

import pytest
from django.test import Client, override_settings

from tests.cast import Cast


def test_a_requesters_frame_offers_only_what_they_may_open(client: Client, cast: Cast) -> None:
    client.force_login(cast.requester)
    labels = [section.label for section in client.get("/account/me/").context["sections"]]
    assert labels == ["Today", "Requests"]


def test_the_section_of_the_page_is_marked(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    sections = client.get("/systems/").context["sections"]
    assert [section.label for section in sections if section.is_current] == ["Systems"]


def test_an_unknown_address_answers_in_the_look_of_the_house(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    answer = client.get("/nowhere/")
    assert answer.status_code == 404
    assert "Nothing is here" in answer.content.decode()


def test_a_role_that_does_not_suffice_is_told_so(client: Client, cast: Cast) -> None:
    client.force_login(cast.requester)
    answer = client.get("/estate/")
    assert answer.status_code == 403
    assert "Your role does not reach this far" in answer.content.decode()


@override_settings(DEBUG=False)
def test_a_fault_answers_without_database_or_session(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("invented fault")

    monkeypatch.setattr("keyctl.cores.views.estate.estate_sites", fail)
    client = Client(raise_request_exception=False)
    client.force_login(cast.locksmith)
    answer = client.get("/estate/")
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.content.decode()
    assert "invented fault" not in answer.content.decode()
