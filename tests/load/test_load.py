"""The arithmetic and the book of the load run, against other libraries, a standard and small worlds.

The run itself takes minutes and a machine of its own: ``python -m tests.load``.
"""

import json
import statistics
from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest

from tests.load import holding
from tests.load.book import Book, kind_of
from tests.load.casting import SHARES, dealt
from tests.load.measures import percentile, settled, slope
from tests.load.people.person import code_of
from tests.load.reading import Page
from tests.load.telling import troubles


@pytest.mark.parametrize("count", [1, 2, 3, 20, 101])
def test_shares_are_those_of_numpy_and_of_statistics(count: int) -> None:
    values = [Random(count).expovariate(3) for _ in range(count)]
    for share in (0.5, 0.95, 1.0):
        assert percentile(values, share) == pytest.approx(float(np.percentile(values, share * 100)))
    if count > 1:
        hundredths = statistics.quantiles(values, n=100, method="inclusive")
        assert percentile(values, 0.95) == pytest.approx(hundredths[94])


def test_a_climb_is_that_of_numpy() -> None:
    rng = Random(5)
    samples = [(n * 2.0, 150 + n * 0.3 + rng.random()) for n in range(60)]
    wanted = np.polyfit([x for x, _ in samples], [y for _, y in samples], 1)[0]
    assert slope(samples) == pytest.approx(float(wanted))
    assert slope([(1.0, 4.0)]) == 0
    assert len(settled(samples)) == 40


def test_codes_are_those_of_the_standard() -> None:
    """RFC 6238, appendix B: SHA-1, the last six of its eight digits."""
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    published = {59: "94287082", 1111111109: "07081804", 1234567890: "89005924", 20000000000: "65353130"}
    assert {moment: code_of(secret, moment) for moment in published} == {
        moment: digits[2:] for moment, digits in published.items()
    }


@pytest.mark.parametrize("people", [8, 20, 60, 61, 200])
def test_everybody_is_dealt_a_role(people: int) -> None:
    counts = dealt(people)
    assert sum(counts.values()) == people
    assert set(counts) == set(SHARES)


def test_pages_of_one_kind_count_together() -> None:
    one, other = (f"/estate/doors/0b6f8a5e-8f39-4dfb-b9a8-6b1a1b2c3d{n:02}/?q={n}" for n in (1, 2))
    assert kind_of("GET", one) == kind_of("GET", other) == "GET /estate/doors/…/"
    assert kind_of("GET", "/history/17/", is_piece=True) == "GET /history/…/ (a piece)"
    assert kind_of("GET", "/api/v1/doors/") == "GET /api/v1/doors/"


FORM = """
<a href="/orders/1/">one</a><a href="/orders/">all</a>
<form id="f" method="post" action="/x/finish/">
  <input name="csrfmiddlewaretoken" type="hidden" value="t"><input name="name" value="Ann &amp; Bo">
  <select name="cabinet"><option value="">Choose</option><option value="2" selected>B</option></select>
  <select name="due"><option value="usual">Usual</option><option value="at">At</option></select>
  <input type="radio" name="place" value="shelf"><input type="radio" name="place" value="bench" checked>
  <input type="checkbox" name="sure"><textarea name="note">as it is</textarea>
  <input type="submit" name="find" value="1"><button name="form" value="csv">CSV</button>
</form><input type="hidden" form="f" name="version" value="7">
"""


def test_a_form_sends_what_a_browser_would_send() -> None:
    """HTML, 4.10.21.4 "Constructing the entry list": nothing unticked, no button that was not pressed."""
    page = Page(200, "/x/", FORM, "r")
    form = page.form("/finish/")
    assert form is not None
    wanted = {
        "csrfmiddlewaretoken": "t",
        "name": "Ann & Bo",
        "cabinet": "2",
        "due": "usual",
        "place": "bench",
    }
    assert dict(form.fields) == wanted | {"note": "as it is", "version": "7"}
    assert form.choices["cabinet"] == ["", "2"]
    typed = form.filled(place="shelf", doors=["a", "b"])
    assert [value for name, value in typed if name == "doors"] == ["a", "b"]
    assert dict(typed)["place"] == "shelf"
    assert page.links_to("/orders/") == ["/orders/1/", "/orders/"]


class SmallWorld:
    """A database of a few rows, in the place of a look into one."""

    def __init__(self, events: list[tuple[str, str, int]], **marked: list[str]) -> None:
        self.events, self.marked = events, marked

    def rows(self, sql: str) -> list[Any]:
        if "FROM audit_event WHERE id >" in sql:
            return self.events
        return [
            (value,) for name, values in self.marked.items() if f"FROM {name} " in sql for value in values
        ]


def faults_of(book: Book, *events: tuple[str, str, int], **marked: list[str]) -> list[str]:
    world: Any = SmallWorld(list(events), **marked)
    return holding.faults(world, book, 0, "m")


def booked() -> Book:
    book = Book()
    for number, status in (("a", 302), ("b", 200), ("c", 409), ("d", 0)):
        book.answered("POST /x/", number, status, 0.1) if status else book.never_answered(
            "POST /x/", number, ""
        )
    book.done("move a core", "a", core__moved=1)
    book.done("approve", "b", **{"request.approved|request.step_approved": 1})
    book.mark("requests", "m 1")
    return book


AGREED = (("a", "core.moved", 1), ("b", "request.step_approved", 1))


def test_a_book_that_agrees_has_no_fault() -> None:
    assert faults_of(booked(), *AGREED, approvals_keyrequest=["m 1"]) == []


@pytest.mark.parametrize(
    ("events", "requests", "words"),
    [
        (AGREED[1:], ["m 1"], "move a core (a): 0 times"),
        ((("a", "core.moved", 2), AGREED[1]), ["m 1"], "move a core (a): 2 times"),
        ((*AGREED, ("c", "core.moved", 1)), ["m 1"], "request c was answered 409"),
        ((*AGREED, ("stranger", "core.moved", 1)), ["m 1"], "request stranger was answered -1"),
        (AGREED, [], "m 1 is there 0 times"),
        (AGREED, ["m 1", "m 1"], "m 1 is there 2 times"),
        (AGREED, ["m 1", "m 2", "m 3"], "2 are there that nobody was told of"),
    ],
)
def test_what_is_lost_doubled_or_done_although_refused_is_told(
    events: tuple[tuple[str, str, int], ...], requests: list[str], words: str
) -> None:
    (fault,) = faults_of(booked(), *events, approvals_keyrequest=requests)
    assert words in fault


def test_what_had_no_answer_may_be_there_or_not() -> None:
    may_be = (*AGREED, ("d", "request.asked", 1))
    assert faults_of(booked(), *may_be, approvals_keyrequest=["m 1", "m 2"]) == []


def test_a_log_tells_of_errors_and_of_nothing_else(tmp_path: Path) -> None:
    lines = [
        json.dumps({"level": "info", "event": "answered", "status": 200}),
        json.dumps({"level": "error", "event": "it broke"}),
        "[1] [INFO] Booting worker",
        "[1] [CRITICAL] WORKER TIMEOUT",
        "Traceback (most recent call last):",
    ]
    log = tmp_path / "web.log"
    log.write_text("\n".join(lines))
    assert Counter(line.split(": ", 1)[0] for line in troubles([log])) == {"web.log": 3}
