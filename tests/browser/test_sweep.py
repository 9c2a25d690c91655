"""Every page that the map of the product knows, each looked at once: made from the URL configuration, so that
a new page is looked at without a line here. What answers no page is named in `unswept.py` with the reason.
"""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.db import transaction
from django.http import HttpResponse
from django.test import Client, RequestFactory, override_settings
from playwright.sync_api import Browser
from pytest_django import DjangoDbBlocker

from keyctl.accounts.views.limits import limited
from keyctl.lib.limits import LONGEST_QUERY
from keyctl.lib.policy import declared
from keyctl.lib.storage import AWAY, BROKEN, BUSY, FULL, READ_ONLY, tell
from keyctl.operations.views import server_error
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.browser.conftest import TABLET
from tests.browser.sweeping import Sweep, Sweeper
from tests.browser.unswept import UNSWEPT
from tests.cast import Cast, gather
from tests.factories import make_user
from tests.matrix.asking import Asker, quiet
from tests.matrix.expected import rows
from tests.matrix.people import gather_sessions
from tests.matrix.rows import YES, Row
from tests.scenes import build_routes
from tests.signing import sign_in

ASKED = [row for row in rows() if row.method == "GET" and declared()[row.route].whose("GET") is not None]
SPACES = sorted({row.route.rpartition(":")[0] for row in ASKED})
# Whose page shows most, first; nobody sees what is there before the sign-in. Last who has all at both sites
# and signed in a moment ago: some pages are for them alone, or lead on where there is one site.
EVERYWHERE = "everywhere"
NAMED = ("locksmith", "desk", "officer", "manager", "administrator", "both", "requester", "auditor", "nobody")
# What an address says beside its parameters.
SAID = {"inherited:reconstruct": "?format=small-a2-7"}


FAULTY = f"""<!doctype html><html><head><title></title><script src="https://elsewhere.example/x.js"></script></head>
<body><main><p id="a">One</p><p id="a" style="width: 90rem">Two</p><h1>A</h1><h1>B</h1>
<button onclick="x()">Small</button><p hidden>{"long " * 300}</p></main></body></html>"""
EXPECTED = (
    "leaves the host",
    "twice the id a",
    'inline: <p id="a"',
    "inline: <button",
    "2 headings",
    "no title",
    "no language",
    "html-has-lang",
    "lower than a finger",
    "stick out at 390 px",
    "stick out at 200 % zoom",
    "stick out with text twice as large",
    "KB on first load",
)


@pytest.fixture(scope="module")
def made(browser: Browser, django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Asker]:
    """Made once and taken back at the end: looking changes nothing.

    After the browser: once its loop runs, Django takes another connection than before.
    """
    contact = override_settings(SECURITY_CONTACT="mailto:security@example.org")
    with django_db_blocker.unblock(), transaction.atomic(), quiet(), contact:
        cast = gather()
        sessions = gather_sessions(cast) | {EVERYWHERE: session_everywhere(cast)}
        _, objects = build_routes(cast)
        yield Asker(sessions, objects)
        transaction.set_rollback(True)


def session_everywhere(cast: Cast) -> str:
    user = make_user("x-everywhere")
    roles = sorted(set(Role) - {Role.INTEGRATION})
    held = [(site, role) for site in (cast.north, cast.south) for role in roles]
    Membership.objects.bulk_create(Membership(user=user, site=site, role=role) for site, role in held)
    return sign_in(Client(), user).cookies[settings.SESSION_COOKIE_NAME].value


@pytest.fixture
def sweeper(made: Asker, browser: Browser, db: None) -> Iterator[Sweeper]:
    context = browser.new_context(viewport=TABLET, service_workers="block")
    yield Sweeper(context.new_page(), made)
    context.close()


def rows_of(space: str) -> list[Row]:
    return [row for row in ASKED if row.route.rpartition(":")[0] == space]


def page_of(asker: Asker, row: Row) -> tuple[str, str, Any]:
    """Somebody who may see it, the address, and the whole page; nobody where it answers none."""
    address = asker.address(row.route) + SAID.get(row.route, "")
    for who in (*(who for who in NAMED if row.cells.get(who) == YES), EVERYWHERE):
        asker.become(who)
        answer = asker.client.get(address)
        if is_page(answer):
            return who, address, answer
        if is_file(answer):
            break
    return "", address, None


def is_file(answer: Any) -> bool:
    """Whoever else asks for it gets a file as well; to make it takes long."""
    return answer.status_code == 200 and not is_html(answer)


def is_page(answer: Any) -> bool:
    return answer.status_code == 200 and is_html(answer) and b"<html" in answer.content


def is_html(answer: Any) -> bool:
    return str(answer.headers.get("Content-Type", "")).startswith("text/html")


@pytest.mark.parametrize("space", SPACES)
def test_every_page_is_sound(space: str, sweeper: Sweeper) -> None:
    faults: dict[str, object] = {}
    titles: dict[str, str] = {}
    for row in rows_of(space):
        if row.route in UNSWEPT:
            continue
        who, address, answer = page_of(sweeper.asker, row)
        if not who:
            faults[row.route] = "is no page, and nobody says why"
            continue
        swept = sweeper.sweep(who, address, answer)
        keep_figures(row.route, swept)
        if other := titles.get(swept.title):
            swept.faults.append(f"{other} has the same title: {swept.title}")
        titles[swept.title] = row.route
        faults |= {row.route: swept.faults} if swept.faults else {}
    assert faults == {}


def test_the_app_on_the_tablet_is_as_light_and_sound_in_german(sweeper: Sweeper) -> None:
    """It speaks by scripts, so its words are a part of its weight."""
    (row,) = (row for row in ASKED if row.route == "field:app")
    # Whoever asks for no language gets that of the installation.
    with override_settings(LANGUAGE_CODE="de"):
        who, address, answer = page_of(sweeper.asker, row)
        swept = sweeper.sweep(who, address, answer)
    keep_figures("field:app in German", swept)
    assert 'lang="de"' in answer.content.decode()
    assert swept.weights["/field/words.js"] > 5000
    assert "/field/page-words.json" not in swept.weights
    assert swept.faults == []


def told(asker: Asker) -> Iterator[tuple[str, Any]]:
    """Every page that tells of an error, by the way it comes about, or from who makes it."""
    asker.become("locksmith")
    yield "not found", asker.client.get("/nowhere/")
    yield "no text", asker.client.get("/estate/?search=%00")
    yield "too long", asker.client.get(f"/estate/?{'x' * LONGEST_QUERY}x", headers={"accept": "text/html"})
    yield "no role", asker.ask("requester", "cores:estate", "GET")
    request = RequestFactory().get("/", headers={"accept": "text/html"})
    request.user = AnonymousUser()
    yield "broken", server_error(request)
    yield "limited", limited(request)
    for trouble in (FULL, READ_ONLY, BUSY, AWAY, BROKEN):
        yield str(trouble.title), tell(request, trouble)


def test_every_page_of_an_error_is_sound_and_says_what_to_do(sweeper: Sweeper) -> None:
    faults: dict[str, object] = {}
    for words, answer in told(sweeper.asker):
        assert answer.status_code >= 400, words
        swept = sweeper.sweep("locksmith", "/", answer)
        if "What to do now" not in answer.content.decode() and words != "limited":
            swept.faults.append("says nothing of what to do")
        faults |= {words: swept.faults} if swept.faults else {}
    assert faults == {}


def test_what_is_named_as_no_page_is_none(made: Asker, db: None) -> None:
    """And no reason stands for a route that is gone."""
    known = {row.route: row for row in ASKED}
    pages = {route for route in UNSWEPT if route in known and page_of(made, known[route])[0]}
    assert (UNSWEPT.keys() - known.keys(), pages - {"api:docs"}) == (set(), set())


def test_what_is_looked_for_is_found(sweeper: Sweeper) -> None:
    """A page with one of each fault."""
    swept = sweeper.sweep("nobody", "/faulty/", HttpResponse(FAULTY), most=1)
    told = " | ".join(swept.faults)
    missed = [words for words in EXPECTED if words not in told]
    assert missed == []


def keep_figures(route: str, swept: Sweep) -> None:
    """``KEYCTL_WEIGHTS=file`` also keeps what each page weighs."""
    if file := os.environ.get("KEYCTL_WEIGHTS"):
        with Path(file).open("a") as kept:
            kept.write(json.dumps({"route": route, "bytes": swept.bytes, "of": swept.weights}) + "\n")
