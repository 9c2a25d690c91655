"""A way back in, made at the machine: for one person, once, for half an hour, told to history."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from keyctl.accounts.factors import has_second_factor
from keyctl.accounts.models import WayBack
from keyctl.audit.models import Event
from tests.cast import Cast
from tests.factories import PASSWORD
from tests.keyctl.accounts.codes import add_app

URL, BACK = "/account/sign-in/", "/account/sign-in/way-back/"
NEW = "seven brass drawers"


def code_for(name: str) -> str:
    out = StringIO()
    call_command("break_glass", name, stdout=out)
    (line,) = [line.strip() for line in out.getvalue().splitlines() if line.startswith("    ")]
    return line


def take(code: str, name: str = "administrator", new: str = NEW, again: str = NEW) -> int:
    facts = {"username": name, "code": code, "new_password": new, "again": again}
    return Client().post(BACK, facts).status_code


def signs_in(password: str) -> bool:
    client = Client()
    client.post(URL, {"username": "administrator", "password": password})
    return "_auth_user_id" in client.session


def test_it_gives_a_new_password_and_takes_factors_and_sessions_away(client: Client, cast: Cast) -> None:
    add_app(client, cast.administrator)
    assert take(code_for("administrator")) == 302
    assert not has_second_factor(cast.administrator)
    assert client.get("/account/me/").headers["Location"].startswith(URL)
    assert (signs_in(PASSWORD), signs_in(NEW)) == (False, True)


def test_it_holds_once(cast: Cast) -> None:
    code = code_for("administrator")
    assert [take(code), take(code)] == [302, 422]


def test_a_newer_one_ends_it(cast: Cast) -> None:
    older, newer = code_for("administrator"), code_for("administrator")
    assert [take(older), take(newer)] == [422, 302]


def test_it_ends_after_half_an_hour(cast: Cast) -> None:
    code = code_for("administrator")
    until = WayBack.objects.get().expires_at
    assert abs(until - timezone.now() - timedelta(minutes=30)) < timedelta(minutes=1)
    WayBack.objects.update(expires_at=timezone.now())
    assert take(code) == 422


def test_it_is_for_one_person(cast: Cast) -> None:
    assert take(code_for("administrator"), "officer") == 422


@pytest.mark.parametrize(("new", "again"), [("short", "short"), (NEW, "another phrase here")])
def test_a_weak_or_mistyped_password_leaves_it_as_it_is(cast: Cast, new: str, again: str) -> None:
    code = code_for("administrator")
    assert [take(code, new=new, again=again), take(code)] == [422, 302]


def test_who_has_left_comes_back_by_no_code(cast: Cast) -> None:
    code = code_for("administrator")
    cast.administrator.is_active = False
    cast.administrator.save()
    assert take(code) == 422
    with pytest.raises(CommandError, match="has ended"):
        code_for("administrator")


def test_nobody_has_none(db: None) -> None:
    with pytest.raises(CommandError, match="Nobody signs in as stranger1"):
        code_for("stranger1")


def test_history_tells_of_the_making_and_the_taking_and_the_database_holds_no_code(cast: Cast) -> None:
    code = code_for("administrator")
    assert code not in str(list(WayBack.objects.values()))
    take(code)
    made = Event.objects.get(verb="account.way_back_made")
    taken = Event.objects.get(verb="account.way_back_taken")
    assert (made.actor, taken.actor) == (None, cast.administrator)
    assert code not in f"{made.sentence}{made.detail}{taken.sentence}{taken.detail}"
