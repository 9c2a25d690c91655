"""Sessions: their keys, their ends, their list, and ending them."""

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils import timezone

from keyctl.accounts.factors import has_second_factor
from keyctl.accounts.models import Session
from keyctl.accounts.sessions import digest_of
from keyctl.audit.models import Event
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.factories import PASSWORD
from tests.keyctl.accounts.codes import add_app

URL, SESSIONS, END = "/account/sign-in/", "/account/sessions/", "/account/sessions/end/"
IPAD = "Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1 Version/18.0 Safari/605.1"
FIREFOX = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


def sign_in(name: str, agent: str = FIREFOX) -> Client:
    client = Client(headers={"User-Agent": agent}, REMOTE_ADDR="192.0.2.7")
    assert client.post(URL, {"username": name, "password": PASSWORD}).status_code == 302
    return client


def key_of(client: Client) -> str:
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def is_in(client: Client) -> bool:
    return client.get("/account/me/").status_code == 200


def silent_for(client: Client, minutes: float) -> None:
    seen = timezone.now() - timedelta(minutes=minutes)
    Session.objects.filter(pk=digest_of(key_of(client))).update(seen_at=seen)


def test_the_database_holds_no_key_of_a_session(cast: Cast) -> None:
    client = sign_in("auditor")
    kept = str(list(Session.objects.values()))
    assert key_of(client) not in kept
    assert Session.objects.get().pk == digest_of(key_of(client))


def test_what_stands_in_the_database_opens_no_session(cast: Cast) -> None:
    sign_in("auditor")
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = Session.objects.get().pk
    assert not is_in(thief)


def test_a_sign_in_gives_a_new_key(client: Client, cast: Cast) -> None:
    """Whoever planted a key in the browser before knows nothing after."""
    client.get("/account/sign-in/passkey/options/")
    planted = key_of(client)
    client.post(URL, {"username": "auditor", "password": PASSWORD})
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = planted
    assert key_of(client) != planted
    assert is_in(client)
    assert not is_in(thief)


def test_it_ends_twelve_hours_after_the_sign_in_however_busy(cast: Cast) -> None:
    client = sign_in("auditor")
    ends = Session.objects.get().expire_date
    silent_for(client, 10)
    session = client.session
    session["words"] = "are kept"
    session.save()
    assert is_in(client)
    assert Session.objects.get().expire_date == ends
    assert abs(ends - timezone.now() - timedelta(hours=12)) < timedelta(minutes=1)
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))
    assert not is_in(client)


@pytest.mark.parametrize(
    ("name", "minutes", "stays"),
    [
        ("locksmith", 29, True),
        ("locksmith", 31, False),
        ("manager", 31, False),
        ("officer", 31, False),
        ("administrator", 31, False),
        ("requester", 200, True),
        ("desk", 200, True),
    ],
)
def test_silence_ends_the_session_of_who_may_see_bittings(
    cast: Cast, name: str, minutes: int, stays: bool
) -> None:
    client = sign_in(name)
    silent_for(client, minutes)
    assert is_in(client) is stays
    if not stays:
        assert "half an hour" in client.get(URL).content.decode()


def test_looking_writes_a_sessions_time_once_a_minute_at_most(cast: Cast, writes: Any) -> None:
    client = sign_in("auditor")
    for minutes, writing in ((0.5, 0), (2, 1)):
        silent_for(client, minutes)
        with CountedUpdates() as counted:
            client.get("/account/me/")
        assert counted.found == writing


class CountedUpdates:
    found = 0

    def __enter__(self) -> "CountedUpdates":
        self._wrapper = connection.execute_wrapper(self._count)
        self._wrapper.__enter__()
        return self

    def __exit__(self, *error: Any) -> None:
        self._wrapper.__exit__(*error)

    def _count(self, execute: Any, sql: str, *facts: Any) -> Any:
        self.found += sql.startswith("UPDATE") and "accounts_session" in sql
        return execute(sql, *facts)


def test_the_list_tells_which_browser_from_where_and_marks_this_one(cast: Cast) -> None:
    sign_in(
        "auditor", "Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1 Version/18.0 Safari/605.1"
    )
    client = sign_in("auditor")
    sign_in("locksmith")
    page = client.get(SESSIONS)
    found = {
        (one.browser, one.address, one.pk == page.context["current"]) for one in page.context["sessions"]
    }
    assert found == {("Firefox on Linux", "192.0.2.7", True), ("Safari on iPad", "192.0.2.7", False)}


def test_one_is_ended_by_name(cast: Cast) -> None:
    lost, kept, client = sign_in("auditor"), sign_in("auditor"), sign_in("auditor")
    client.post(END, {"session": digest_of(key_of(lost))})
    assert (is_in(lost), is_in(kept), is_in(client)) == (False, True, True)
    assert Event.objects.filter(verb="account.session_ended").count() == 1


def test_all_others_are_ended_at_once(cast: Cast) -> None:
    lost, other, client = sign_in("auditor"), sign_in("auditor"), sign_in("auditor")
    colleague = sign_in("locksmith")
    client.post(END)
    assert [is_in(one) for one in (lost, other, client, colleague)] == [False, False, True, True]
    assert Event.objects.get(verb="account.session_ended").detail == {"sessions": 2}


def test_nobody_ends_anothers(cast: Cast) -> None:
    colleague, client = sign_in("locksmith"), sign_in("auditor")
    client.post(END, {"session": digest_of(key_of(colleague))})
    assert is_in(colleague)


def test_a_sign_in_is_told_to_history(cast: Cast) -> None:
    sign_in("auditor")
    event = Event.objects.get(verb="account.signed_in")
    assert (event.actor, event.sentence) == (cast.auditor, "signed in by password, with Firefox on Linux")


def test_signing_out_clears_the_cache_and_leaves_what_a_tablet_keeps(cast: Cast) -> None:
    """Cookies hold the tablet's own proof, storage what it has not sent yet."""
    answer = sign_in("locksmith").post("/account/sign-out/")
    assert answer.headers["Clear-Site-Data"] == '"cache"'
    assert Session.objects.filter(user__isnull=False).count() == 0


SIGN_INS, RESET, END_ALL = (
    "/places/sign-ins/",
    "/places/sign-ins/reset-factors/",
    "/places/sign-ins/end-sessions/",
)


def test_an_administrator_ends_a_persons_sessions(cast: Cast) -> None:
    lost, administrator = sign_in("locksmith"), sign_in("administrator")
    administrator.post(END_ALL, {"person": str(cast.locksmith.pk)})
    assert (is_in(lost), is_in(administrator)) == (False, True)
    assert Event.objects.get(verb="account.session_ended").actor == cast.administrator


def test_an_administrator_resets_a_persons_factors_and_ends_their_sessions(cast: Cast) -> None:
    lost, administrator = sign_in("locksmith"), sign_in("administrator")
    add_app(lost, cast.locksmith)
    assert "Added" in administrator.get(SIGN_INS).content.decode()
    administrator.post(RESET, {"person": str(cast.locksmith.pk)})
    assert not has_second_factor(cast.locksmith)
    assert not is_in(lost)
    event = Event.objects.get(verb="account.factors_reset")
    assert (event.actor, event.detail["factors"]) == (cast.administrator, 1)


def test_resetting_wants_a_fresh_sign_in(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    answer = client.post(RESET, {"person": str(cast.locksmith.pk)})
    assert answer.headers["Location"].startswith("/account/prove/")


@pytest.mark.parametrize("name", ["stranger", "administrator"])
def test_strangers_and_oneself_are_not_among_those_an_administrator_looks_after(
    cast: Cast, name: str
) -> None:
    administrator = sign_in("administrator")
    for address in (RESET, END_ALL):
        assert administrator.post(address, {"person": str(getattr(cast, name).pk)}).status_code == 404


def test_whoever_works_elsewhere_too_is_looked_after_by_who_administers_both(cast: Cast) -> None:
    Membership.objects.create(user=cast.locksmith, site=cast.south, role=Role.LOCKSMITH)
    administrator = sign_in("administrator")
    assert administrator.post(END_ALL, {"person": str(cast.locksmith.pk)}).status_code == 404
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    assert administrator.post(END_ALL, {"person": str(cast.locksmith.pk)}).status_code == 302


@pytest.mark.parametrize("name", ["locksmith", "officer", "auditor", "requester"])
def test_nobody_else_looks_after_sign_ins(client: Client, cast: Cast, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(SIGN_INS).status_code == 403
    assert client.post(END_ALL, {"person": str(cast.desk.pk)}).status_code == 403
