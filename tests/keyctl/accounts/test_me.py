"""One's own page, and changing one's password."""

import pytest
from django.test import Client

from keyctl.audit.selectors import history_of
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.factories import PASSWORD

URL = "/account/me/"
CHANGE = "/account/me/password/"
NEW = "seven brass drawers"


def facts(old: str = PASSWORD, new: str = NEW, again: str = NEW) -> dict[str, str]:
    return {"old_password": old, "new_password1": new, "new_password2": again}


def test_it_names_the_roles_site_by_site(client: Client, cast: Cast) -> None:
    Membership.objects.create(user=cast.auditor, site=cast.south, role=Role.KEY_DESK)
    client.force_login(cast.auditor)
    page = client.get(URL).content.decode()
    assert all(words in page for words in ("North site", "Auditor", "South site", "Key desk"))


@pytest.mark.parametrize("name", ["requester", "stranger", "administrator"])
def test_everybody_has_one(client: Client, cast: Cast, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(URL).status_code == 200


def test_visitors_are_sent_to_the_sign_in_page(client: Client, db: None) -> None:
    for answer in (client.get(URL), client.post(CHANGE, facts())):
        assert answer.headers["Location"].startswith("/account/sign-in/")


def test_the_password_changes_and_one_stays_signed_in(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    answer = client.post(CHANGE, facts(), follow=True)
    cast.auditor.refresh_from_db()
    assert answer.context["user"] == cast.auditor
    assert cast.auditor.check_password(NEW)
    assert "Your password is changed" in answer.content.decode()


def test_other_sessions_of_the_person_end(client: Client, cast: Cast) -> None:
    elsewhere = Client()
    elsewhere.force_login(cast.auditor)
    client.force_login(cast.auditor)
    client.post(CHANGE, facts())
    assert elsewhere.get(URL).status_code == 302


@pytest.mark.parametrize(
    "wrong", [facts(old="guessed"), facts(again="another phrase here"), facts(new="short", again="short")]
)
def test_it_refuses_a_wrong_or_weak_password(client: Client, cast: Cast, wrong: dict[str, str]) -> None:
    client.force_login(cast.auditor)
    answer = client.post(CHANGE, wrong)
    cast.auditor.refresh_from_db()
    assert answer.status_code == 422
    assert cast.auditor.check_password(PASSWORD)


def test_nobody_guesses_the_password_at_an_open_screen(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    codes = [client.post(CHANGE, facts(old=f"guess {n}")).status_code for n in range(7)]
    assert codes == [422] * 5 + [429] * 2


def test_history_knows_of_the_change_but_not_the_password(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    client.post(CHANGE, facts())
    (event,) = history_of(cast.auditor)
    assert event.verb == "account.password_changed"
    assert NEW not in f"{event.sentence}{event.detail}"
