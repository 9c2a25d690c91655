"""How many tries there are: counted over all processes, the same for known and unknown names."""

import random
import re
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from allauth.core.internal import ratelimit
from django.core.cache import cache, caches
from django.db import connection
from django.test import Client
from django.utils import timezone
from pytest_django import Settings

from keyctl.accounts.models import Session, Tally
from keyctl.accounts.tally import SharedTally
from keyctl.audit.models import Event
from tests.cast import Cast
from tests.factories import PASSWORD

URL, BACK = "/account/sign-in/", "/account/sign-in/way-back/"


WRONG = "not this one"


def try_in(name: str, password: str = WRONG, address: str = "192.0.2.7") -> Any:
    return Client(REMOTE_ADDR=address).post(URL, {"username": name, "password": password})


def without_token(page: bytes) -> str:
    return re.sub(r'(name="csrfmiddlewaretoken" value="|X-CSRFToken": ")\w+', "", page.decode())


def test_five_wrong_passwords_close_a_name_for_a_while(cast: Cast) -> None:
    assert [try_in("auditor").status_code for _ in range(7)] == [200] * 5 + [429] * 2
    assert try_in("auditor", PASSWORD).status_code == 429
    assert try_in("locksmith", PASSWORD).status_code == 302


def test_another_spelling_or_place_is_no_other_name(cast: Cast) -> None:
    for n in range(5):
        try_in("AUDITOR" if n % 2 else "auditor", address=f"192.0.2.{n}")
    assert try_in("Auditor", PASSWORD, "192.0.2.99").status_code == 429


def test_an_unknown_name_is_answered_like_a_known_one(cast: Cast) -> None:
    """Answer by answer, to the last sign of the page but what was typed and the form's token."""
    known = [try_in("auditor", address=f"192.0.2.{n}") for n in range(6)]
    unknown = [try_in("nobody1", address=f"192.0.2.{n}") for n in range(6)]
    assert [one.status_code for one in known] == [one.status_code for one in unknown]
    for one, other in zip(known, unknown, strict=True):
        assert without_token(one.content).replace("auditor", "nobody1") == without_token(other.content)


def test_who_has_left_is_answered_like_nobody(cast: Cast) -> None:
    cast.auditor.is_active = False
    cast.auditor.save()
    left, unknown = try_in("auditor", PASSWORD), try_in("nobody1", PASSWORD)
    assert without_token(left.content).replace("auditor", "nobody1") == without_token(unknown.content)


def test_twenty_wrong_ones_close_an_address_whatever_the_names(cast: Cast) -> None:
    codes = [try_in(f"name-{n}").status_code for n in range(22)]
    assert codes == [200] * 20 + [429] * 2
    assert try_in("auditor", PASSWORD).status_code == 429
    assert try_in("auditor", PASSWORD, "192.0.2.8").status_code == 302


@pytest.mark.parametrize(("proxies", "addresses"), [(0, {"192.0.2.7"}), (1, {"203.0.113.5", "203.0.113.6"})])
def test_a_proxy_is_believed_where_there_is_one_and_its_last_word_alone(
    cast: Cast, settings: Settings, proxies: int, addresses: set[str]
) -> None:
    """Whoever asks writes the entries before the last themselves."""
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = proxies
    for n in (5, 6):
        said = {"X-Forwarded-For": f"198.51.100.{n}, 203.0.113.{n}"}
        client = Client(REMOTE_ADDR="192.0.2.7", headers=said)
        client.post(URL, {"username": "auditor", "password": PASSWORD})
    assert set(Session.objects.values_list("address", flat=True)) == addresses


def test_right_ones_between_do_not_begin_the_count_anew(cast: Cast) -> None:
    for _ in range(2):
        try_in("auditor")
        try_in("auditor")
        assert try_in("auditor", PASSWORD).status_code == 302
    assert try_in("auditor").status_code == 200
    assert try_in("auditor", PASSWORD).status_code == 429


def test_a_burst_is_one_event_and_names_of_nobody_are_none(cast: Cast) -> None:
    for _ in range(9):
        try_in("auditor")
        try_in("nobody1", address="192.0.2.8")
    event = Event.objects.get(verb="account.sign_in_held_up")
    assert (event.actor, event.detail) == (None, {"failures": 5})
    assert not Event.objects.filter(sentence__contains="nobody1").exists()


def test_the_page_says_what_to_do(cast: Cast) -> None:
    for _ in range(5):
        try_in("auditor")
    page = try_in("auditor").content.decode()
    assert "Wait five minutes" in page
    assert "auditor" not in page


def test_the_database_holds_neither_names_nor_addresses_of_who_tried(cast: Cast) -> None:
    try_in("auditor", address="192.0.2.77")
    kept = str(list(Tally.objects.values()))
    assert Tally.objects.exists()
    assert "auditor" not in kept
    assert "192.0.2.77" not in kept


def test_codes_for_a_way_back_are_limited_too(db: None) -> None:
    facts = {"username": "auditor", "code": "wrong", "new_password": "seven brass drawers", "again": "x"}
    codes = [Client(REMOTE_ADDR="192.0.2.7").post(BACK, facts).status_code for _ in range(12)]
    assert codes == [422] * 10 + [429] * 2


def test_what_counts_is_shared_and_what_saves_work_is_not() -> None:
    assert isinstance(caches["default"], SharedTally)
    assert not isinstance(caches["process"], SharedTally)


def test_the_count_forgets_in_time(db: None) -> None:
    cache.set("a", [1.5], 60)
    assert cache.get("a") == [1.5]
    assert not cache.add("a", 2, 60)
    Tally.objects.update(expires_at=timezone.now())
    assert cache.get("a", "none") == "none"
    assert not cache.touch("a", 60)
    assert cache.add("a", 2, 60)
    assert cache.get("a") == 2
    assert cache.delete("a")
    assert not cache.delete("a")


def test_who_waits_for_its_turn_to_count_writes_nothing(
    db: None, writes: Callable[[], AbstractContextManager[list[str]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixty people who come in at once wait for one lock: on SQLite each write would make all wait longer."""
    monkeypatch.setattr(random, "randrange", lambda _most: 1)  # nothing is swept away now
    with writes() as first:
        assert cache.add("lock", True, 10)
    with writes() as again:
        assert not any(cache.add("lock", True, 10) for _ in range(3))
    assert first
    assert again == []


@pytest.mark.django_db(transaction=True)
def test_of_many_who_count_at_once_each_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """And without the library's lock, which gave up after a second: an office comes in at once."""
    monkeypatch.setattr(SharedTally, "add", None)

    def count() -> None:
        with ratelimit.cache_lock("office"):
            cache.set("office", cache.get("office", 0) + 1, 60)
        connection.close()

    people = [threading.Thread(target=count) for _ in range(6)]
    for person in people:
        person.start()
    for person in people:
        person.join(30)
    assert cache.get("office") == 6


@pytest.mark.django_db(transaction=True)
def test_of_many_who_ask_at_once_one_is_first() -> None:
    won: list[bool] = []

    def ask() -> None:
        won.append(cache.add("first", 1, 60))
        connection.close()

    askers = [threading.Thread(target=ask) for _ in range(6)]
    for asker in askers:
        asker.start()
    for asker in askers:
        asker.join()
    assert sorted(won) == [False] * 5 + [True]
