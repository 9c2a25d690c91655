"""No page shows anything of a site that its reader has no part in, and no form takes it.

Both sites have one of everything; every name of the second holds a word that nothing else does.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest
from django.db import transaction
from django.urls import Resolver404, resolve
from pytest_django import DjangoDbBlocker

from keyctl.lib.policy import declared
from tests.api.client import ROOT, make_api
from tests.api.walk import description
from tests.matrix.asking import Asker, quiet, undone, writes_seen
from tests.matrix.expected import rows
from tests.matrix.pages import Form, forms_of
from tests.matrix.people import OF_CAST, sign_in
from tests.matrix.rows import YES
from tests.matrix.worlds import SHARED, UUIDS, Worlds, build_worlds

NAMES = [actor.name for actor in OF_CAST]
READABLE = {"text/html", "text/plain", "application/json"}
# Pages of nobody in particular hold no names; a code leads away at once.
READ = [row for row in rows() if row.method == "GET" and declared()[row.route].asks_to_sign_in]


Key = tuple[str, str, str, str]


@dataclass(frozen=True)
class Choice:
    """A field of a form that names a record, and where and by whom the form was met first."""

    who: str
    page: str
    form: Form
    name: str
    # The kind of the record that is named; for what is typed, of what carries the tag.
    model: str
    # What the field is called, and says, for a record of the other site.
    other: tuple[str, str]
    own: str = ""

    @property
    def is_called(self) -> bool:
        """The record stands in the field's name: a row of a table that is sent whole."""
        return self.other[0] != self.name

    @property
    def key(self) -> Key:
        name = UUIDS.sub("…", self.name)
        return route_of(urljoin(self.page, self.form.action)), self.form.method, name, self.model


@dataclass
class Walk:
    worlds: Worlds
    asker: Asker
    leaks: dict[str, set[str]] = field(default_factory=dict)
    choices: dict[Key, Choice] = field(default_factory=dict)
    typed: dict[Key, Choice] = field(default_factory=dict)

    def send(self, choice: Choice) -> Any:
        """The form as it stands, but for one field that names a record of the other site."""
        return self.send_instead(choice, *choice.other)

    def send_own(self, choice: Choice) -> Any:
        """The same form, with a record of the first site: what the other is told apart from."""
        return self.send_instead(choice, choice.name, choice.own)

    def send_instead(self, choice: Choice, name: str, value: str) -> Any:
        kept = {each: said for each, said in choice.form.filled().items() if each != choice.name}
        self.asker.become(choice.who)
        self.asker.asked += 1
        address = urljoin(choice.page, choice.form.action)
        if choice.form.method == "get":
            return self.asker.client.get(urlsplit(address).path, kept | {name: [value]})
        return self.asker.client.post(address, kept | {name: [value]})


@pytest.fixture(scope="module")
def walked(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Walk]:
    """Every page that anybody of the first site may look at, read once."""
    with django_db_blocker.unblock(), transaction.atomic(), quiet():
        worlds = build_worlds()
        sessions = {name: sign_in(getattr(worlds.cast, name)) for name in NAMES}
        walk = Walk(worlds, Asker(sessions, worlds.objects))
        for row in READ:
            for who in NAMES:
                if row.cells[who] == YES:
                    read(walk, who, row.route)
        yield walk
        transaction.set_rollback(True)


@pytest.fixture
def walk(walked: Walk, db: None) -> Walk:
    return walked


def read(walk: Walk, who: str, route: str) -> None:
    answer = walk.asker.ask(who, route, "GET")
    if answer.headers.get("Content-Type", "").partition(";")[0] not in READABLE:
        return
    page = answer.content.decode()
    leaks = walk.worlds.leaks(page)
    if leaks and route not in SHARED:
        walk.leaks[f"{route} as {who}"] = leaks
    for form in forms_of(page):
        address = walk.asker.address(route)
        for choice in choices_of(walk.worlds, who, address, form):
            walk.choices.setdefault(choice.key, choice)
        for choice in () if route in SHARED else typed_of(walk.worlds, who, address, form):
            walk.typed.setdefault(choice.key, choice)


def choices_of(worlds: Worlds, who: str, page: str, form: Form) -> Iterator[Choice]:
    """A record is named by what a field says, or by what it is called."""
    for name, offered in form.choices.items():
        called = UUIDS.search(name)
        for known in [called.group()] if called else offered:
            stranger = worlds.counterpart(known)
            if stranger:
                other = (name.replace(known, stranger), "1") if called else (name, stranger)
                yield Choice(who, page, form, name, worlds.models[known], other, known)
                break


def typed_of(worlds: Worlds, who: str, page: str, form: Form) -> Iterator[Choice]:
    for name in form.typed:
        for model, tag in worlds.tag_of.items():
            yield Choice(who, page, form, name, model, (name, tag))


def route_of(address: str) -> str:
    try:
        return resolve(urlsplit(address).path).view_name
    except Resolver404:
        return address


def test_no_page_shows_anything_of_another_site(walk: Walk) -> None:
    assert walk.asker.asked > 500
    assert walk.leaks == {}


def test_every_form_refuses_what_belongs_to_another_site(walk: Walk) -> None:
    """Whatever it answers, nothing was written; where the rest may be taken, nothing of the other site."""
    posted = [choice for choice in walk.choices.values() if choice.form.method == "post"]
    wrong, taken = {}, 0
    for choice in posted:
        with undone(), writes_seen() as own:
            walk.send_own(choice)
        taken += bool(own)
        with undone(), writes_seen() as written:
            answer = walk.send(choice)
        if choice.is_called:
            written = [each for each in written if each.names(walk.worlds.strangers)]
        if written or answer.status_code >= 500:
            wrong[choice.key] = (answer.status_code, [each.sql for each in written[:1]])
    # Many of them are taken as they stand with a record of the first site: it is the other that is refused.
    assert taken > 20, (taken, len(posted))
    assert wrong == {}


def test_no_list_narrowed_by_another_sites_record_shows_it(walk: Walk) -> None:
    asked = [choice for choice in walk.choices.values() if choice.form.method == "get"]
    wrong = {}
    for choice in asked:
        answer = walk.send(choice)
        leaks = walk.worlds.leaks(answer.content.decode(), but=choice.other[1])
        if leaks or answer.status_code >= 500:
            wrong[choice.key] = (answer.status_code, leaks)
    assert len(asked) > 3
    assert wrong == {}


def test_no_typed_tag_reaches_another_site(walk: Walk) -> None:
    """A tag that is typed or scanned shows nothing of what carries it, and nothing is written of that."""
    wrong = {}
    for choice in walk.typed.values():
        with undone(), writes_seen() as written:
            answer = walk.send(choice)
        leaks = walk.worlds.leaks(answer.content.decode(), but=choice.other[1])
        told = [each.sql for each in written if each.names(walk.worlds.strangers)]
        if leaks or told or answer.status_code >= 500:
            wrong[choice.key] = (answer.status_code, leaks, told)
    assert len(walk.typed) > 100
    assert wrong == {}


def test_no_filter_of_the_api_reaches_another_site(walk: Walk) -> None:
    """Every filter of every list that is described, by everything of the other site that it could name."""
    api = make_api(walk.worlds.cast.administrator, walk.worlds.cast.north)
    sent = [(path, name, value) for path, name in filters() for value in values_for(walk.worlds, name)]
    wrong = {}
    for path, name, value in sent:
        answer = api.get(path, **{name: value})
        if leaks := walk.worlds.leaks(answer.content.decode(), but=value):
            wrong[path, name] = leaks
    assert len(sent) > 20
    assert wrong == {}


def filters() -> list[tuple[str, str]]:
    described = ((path.removeprefix(ROOT), each) for path, each in description()["paths"].items())
    lists = [(path, each["get"]) for path, each in described if "get" in each and "{" not in path]
    return [(path, each["name"]) for path, get in lists for each in get.get("parameters", [])]


def values_for(worlds: Worlds, name: str) -> list[str]:
    models = ("places.Site", "places.Building", "places.Door", "places.Housing", "cores.Core")
    ids = [worlds.foreign_ids[model][0] for model in models]
    codes = [worlds.foreign.cast.north.code, *worlds.tag_of.values()]
    return codes if name in {"code", "tag", "system", "number", "name"} else ids


@pytest.mark.parametrize(
    ("kind", "names", "model"),
    [
        ("swap", "housings", "places.Housing"),
        ("pin", "cores", "cores.Core"),
        ("inspect", "doors", "places.Door"),
        ("decode", "cores", "cores.Core"),
    ],
)
def test_no_order_of_a_program_names_what_belongs_to_another_site(
    kind: str, names: str, model: str, walk: Walk
) -> None:
    api = make_api(walk.worlds.cast.administrator, walk.worlds.cast.north)
    strange = walk.worlds.foreign_ids[model][:1]
    sites = [str(walk.worlds.cast.north.pk), str(walk.worlds.cast.south.pk)]
    for site in sites:
        body = {"kind": kind, "site": site, "title": "Work", names: strange}
        with undone(), writes_seen() as written:
            answer = api.post("work-orders/", body)
        assert answer.status_code in {400, 403, 404, 422}, answer.content
        assert [
            each.sql for each in written if not re.search("api_token|api_usage|api_keptanswer", each.sql)
        ] == []
