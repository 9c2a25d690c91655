"""Pages speak as a person chose, else as their browser asks, else as the house has it."""

from datetime import date

import pytest
from django.template import Context, Template
from django.test import Client
from django.urls import reverse

from keyctl.accounts.speaking import speaking
from keyctl.audit.models import Event
from tests.cast import Cast

pytestmark = pytest.mark.django_db


def signed_in(person: object) -> Client:
    client = Client()
    client.force_login(person)  # type: ignore[arg-type]
    return client


def choose(client: Client, **facts: str) -> None:
    facts = {"language": "", "dates": "", "units": ""} | facts
    assert client.post(reverse("accounts:speak"), facts).status_code == 302


def test_a_chosen_language_comes_before_the_browsers(cast: Cast) -> None:
    client = signed_in(cast.locksmith)
    choose(client, language="de")
    response = client.get(reverse("accounts:me"), headers={"accept-language": "en-GB"})
    assert response.headers["Content-Language"] == "de"
    assert '<html lang="de">' in response.content.decode()


@pytest.mark.parametrize(("asked", "spoken"), [("de-AT,de;q=0.9", "de"), ("fr", "en-gb"), ("", "en-gb")])
def test_without_a_choice_the_browser_is_heard(cast: Cast, asked: str, spoken: str) -> None:
    response = signed_in(cast.locksmith).get(reverse("accounts:me"), headers={"accept-language": asked})
    assert response.headers["Content-Language"] == spoken


def test_the_sign_in_page_hears_the_browser_too() -> None:
    response = Client().get(reverse("accounts:sign-in"), headers={"accept-language": "de"})
    assert '<html lang="de">' in response.content.decode()


def test_programs_are_answered_in_one_language() -> None:
    response = Client().get("/api/v1/doors/", headers={"accept-language": "de"})
    assert response.headers["Content-Language"] == "en-gb"


@pytest.mark.parametrize(
    ("dates", "written"), [("", "27 Nov 2026"), ("iso", "2026-11-27"), ("month", "Nov 27, 2026")]
)
def test_days_are_written_as_chosen(dates: str, written: str) -> None:
    with speaking("en-gb", dates):
        assert Template("{{ when|day }}").render(Context({"when": date(2026, 11, 27)})) == written


def test_one_person_does_not_set_the_language_of_the_next(cast: Cast) -> None:
    german, other = signed_in(cast.locksmith), signed_in(cast.desk)
    choose(german, language="de", dates="iso")
    german.get(reverse("accounts:me"))
    assert other.get(reverse("accounts:me")).headers["Content-Language"] == "en-gb"


def test_history_hears_of_the_choice(cast: Cast) -> None:
    choose(signed_in(cast.locksmith), dates="iso")
    assert Event.objects.filter(verb="account.speech", actor_id=cast.locksmith.pk).count() == 1


def test_a_language_that_nobody_speaks_here_is_refused(cast: Cast) -> None:
    facts = {"language": "xx", "dates": "", "units": ""}
    assert signed_in(cast.locksmith).post(reverse("accounts:speak"), facts).status_code == 422
