"""Every page and every paper in a language that nobody speaks: what stands outside of its brackets no
translator was given.

The catalogue is made here: each text comes back in brackets, and what is put into it later stands outside.
Pages are read as by a browser, with what is read aloud. What people typed is in the database and taken away.
English is told from names by its small letters.
"""

import re
from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from html import escape
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.conf import settings
from django.db import models, transaction
from django.test import Client, override_settings
from django.utils import translation
from pytest_django import DjangoDbBlocker

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.counts.models import EvidenceReport
from keyctl.counts.selectors.evidence import evidence_sheet
from keyctl.labels.models import LabelGrid
from keyctl.labels.services import print_labels
from keyctl.lib.policy import declared
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import pin_line
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from keyctl.prints.frame import Composed
from keyctl.prints.lists.contents import CONTENTS
from keyctl.prints.models import Export
from keyctl.prints.press.blocks import Grid
from keyctl.prints.reports.evidence import evidence_pdf
from keyctl.systems.models import KeySystem
from tests.browser.unswept import UNSWEPT
from tests.cast import Cast, gather
from tests.factories import make_user
from tests.matrix.asking import Asker, quiet, undone
from tests.matrix.expected import rows
from tests.matrix.people import gather_sessions
from tests.matrix.rows import YES, Row
from tests.pseudo import speak
from tests.scenes import build_routes
from tests.signing import sign_in

ASKED = [
    row
    for row in rows()
    if row.method == "GET" and declared()[row.route].whose("GET") is not None and row.route not in UNSWEPT
]
SPACES = sorted({row.route.rpartition(":")[0] for row in ASKED})
NAMED = ("locksmith", "desk", "officer", "manager", "administrator", "both", "requester", "auditor", "nobody")
EVERYWHERE = "everywhere"
SAID = {"inherited:reconstruct": "?format=small-a2-7"}

# Whole pages, each with the reason.
UNREAD = {
    "design": "for whoever builds pages",
    "notices:detail": "mail is shown as it was written, in the language of whoever got it",
}
EXAMPLE = dict.fromkeys(
    ("Bitting", "Cleaning", "Front door", "Lock", "A table"), "a table to begin with, as its file is read"
)
# What may stand outside of the brackets, on any page or on one, each with the reason.
PLAIN = {
    "": {
        "keyctl": "the name of the product",
        "in": "the sign of a unit",
        "mm": "the sign of a unit",
    },
    "accounts:me": dict.fromkeys(("Deutsch", "English"), "a language by its own name")
    | {"Nov": "how days are written in English, to choose from"},
    "charts:begin": EXAMPLE,
    "charts:draw": EXAMPLE,
    "counts:rules": {"": "sources are cited in their own language"},
    "directory:columns": {"A: Name": "a heading of the file"},
    "directory:list-detail": {"Ada": "a cell of the file"},
    "field:case": {"": "what the register said then is kept as evidence, in English like history"},
    "notices:list": {"nowhere": "an address that the scene invents"},
    "imports:columns": dict.fromkeys(("A: Building", "B: Floor", "C: Number"), "a heading of the file"),
    "words:list": {"": "sources are cited in their own language"},
    "losses:plans": {"None": "a reason that the scene invents"},
}

# What is said but does not stand on the page.
SPOKEN = ("aria-label", "title", "placeholder", "alt", "data-confirm", "data-confirm-label")
SILENT = {"script", "style", "code", "template"}
VOID = {"meta", "link", "img", "input", "br", "hr", "col", "wbr"}
MARKS = re.compile("([⟦⟧])")
# Codes, addresses and names of files, with a digit or a sign in them.
CODES = re.compile(r"\S*(?:\d|_|/|[.:]\w|@)\S*")
# A decimal comma where a program reads a number.
MISREAD = re.compile(
    r"\d,\d+(?:mm|pt|px|r?em)[;})]"
    r"|\s(?:[xyr]|[xy][12]|c[xy]|r[xy]|width|height|font-size)=.-?\d+,\d"
)
BRACKETED = re.compile(r"⟦[^⟦⟧]*⟧")
WORD = re.compile(r"(?<![\w-])[A-Z]?[a-z]{2,}(?!\w)")


def outside(text: str) -> str:
    before = ""
    while text != before:
        before, text = text, BRACKETED.sub(" ", text)
    return text


class Reader(HTMLParser):
    """What a page says outside of brackets. They may hold marks, so they are counted over all."""

    def __init__(self) -> None:
        super().__init__()
        self.left: list[str] = []
        self.deep = 0
        self.open: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        facts = dict(attrs)
        is_silent = tag in SILENT or (facts.get("lang") or "").startswith("en")
        if not self.is_silent and not is_silent:
            spoken = [value for name in SPOKEN if (value := facts.get(name))]
            self.left += map(outside, spoken)
        if tag not in VOID:
            self.open.append((tag, is_silent))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        rest = ""
        for part in MARKS.split(data):
            self.deep += (part == "⟦") - (part == "⟧")
            rest += part if self.deep == 0 and part != "⟧" else " "
        if not self.is_silent:
            self.left.append(rest)

    @property
    def is_silent(self) -> bool:
        return any(silent for _, silent in self.open)


def typed() -> re.Pattern[str]:
    """What people typed, the longest first, and the names of formats, which come with `pinning`."""
    formats = {name for _, name in engine.format_names()}
    # A family of pins is called by what its formats have in common.
    found = formats | {name.rpartition(", ")[0] for name in formats}
    for model in apps.get_models():
        if model._meta.app_label not in {"audit", "contenttypes", "auth"}:
            found |= texts_of(model)
    ordered = sorted({" ".join(text.split()) for text in found}, key=len, reverse=True)
    return re.compile("|".join(rf"(?<!\w){re.escape(text)}(?!\w)" for text in ordered))


def texts_of(model: type[models.Model]) -> set[str]:
    """A single small word is no name: it would hide the same word of ours."""
    found: set[str] = set()
    for field in model._meta.concrete_fields:
        if isinstance(field, models.CharField | models.TextField) and not field.choices:
            values = model._base_manager.values_list(field.attname, flat=True).distinct()
            found |= {text for text in values if isinstance(text, str) and WORD.search(text)}
    return found if model is User else {text for text in found if re.search(r"\w[ -]\w|^[A-Z]", text)}


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Asker]:
    contact = override_settings(SECURITY_CONTACT="mailto:security@example.org")
    with django_db_blocker.unblock(), transaction.atomic(), quiet(), contact:
        cast = gather()
        sessions = gather_sessions(cast) | {EVERYWHERE: session_everywhere(cast)}
        _, objects = build_routes(cast)
        User.objects.update(language="de")
        yield Asker(sessions, objects)
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def known(made: Asker) -> re.Pattern[str]:
    return typed()


@pytest.fixture
def bracketed(monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch)


def session_everywhere(cast: Cast) -> str:
    user = make_user("x-everywhere")
    roles = sorted(set(Role) - {Role.INTEGRATION})
    held = [(site, role) for site in (cast.north, cast.south) for role in roles]
    Membership.objects.bulk_create(Membership(user=user, site=site, role=role) for site, role in held)
    return sign_in(Client(), user).cookies[settings.SESSION_COOKIE_NAME].value


def page_of(asker: Asker, row: Row) -> str:
    address = asker.address(row.route) + SAID.get(row.route, "")
    for who in (*(who for who in NAMED if row.cells.get(who) == YES), EVERYWHERE):
        asker.become(who)
        answer = asker.client.get(address, headers={"accept-language": "de"})
        if answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html"):
            return str(answer.content.decode())
    return ""


def words_left(page: str, known: re.Pattern[str]) -> set[str]:
    reader = Reader()
    reader.feed(page)
    said = (known.sub(" ", " ".join(each.split())) for each in reader.left)
    bare = (" ".join(CODES.sub(" ", each).split()) for each in said)
    return {each for each in bare if WORD.search(each)} | set(MISREAD.findall(page))


def is_allowed(words: str, route: str) -> bool:
    here = PLAIN.get(route, {})
    return "" in here or words in here or {each.group() for each in WORD.finditer(words)} <= PLAIN[""].keys()


@pytest.mark.parametrize("space", SPACES)
def test_no_page_says_anything_outside_of_the_catalogue(
    space: str, made: Asker, known: re.Pattern[str], bracketed: None, db: None
) -> None:
    plain: dict[str, set[str]] = {}
    for row in ASKED:
        if row.route.rpartition(":")[0] == space and row.route not in UNREAD:
            left = words_left(page_of(made, row), known)
            found = {words for words in left if not is_allowed(words, row.route)}
            plain |= {row.route: found} if found else {}
    assert plain == {}


# What is printed with a press of a button, by the route; the rest are lists and a report, made by jobs.
PRESSED = ("pinning-sheet", "batch-sheet", "cutting-list", "wave-sheet", "receipt", "incident")


@pytest.fixture
def set_in_type(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What would be set as a print: its page, then what stands in the long tables."""
    found: list[str] = []

    def pdf(composed: Composed, _told: object = None) -> bytes:
        found.append(f"{composed.html}<p>{escape(' '.join(_in_tables(composed)))}</p>")
        return b"%PDF"

    monkeypatch.setattr(Composed, "pdf", pdf)
    monkeypatch.setattr("keyctl.labels.services.render_pdf", found.append)
    return found


def _in_tables(composed: Composed) -> Iterator[str]:
    for area in composed.areas:
        yield from area.texts
        for block in area.blocks:
            yield block.code.words if block.code else ""
            for part in block.parts:
                yield from part.spoken.values() if isinstance(part, Grid) else ()


def papers(asker: Asker, found: list[str]) -> Iterator[tuple[str, str]]:
    """Each paper by its name."""
    smith = User.objects.get(username="locksmith")
    pin = WorkOrder.objects.get(pk=asker.objects["prints:pinning-sheet"])
    pin_line(actor=smith, line=pin.lines.get())
    for name in PRESSED:
        answer = asker.ask(EVERYWHERE, f"prints:{name}", "POST")
        assert answer.content == b"%PDF", (name, answer.status_code, answer.headers.get("Location"))
        yield name, found.pop()
    with translation.override("de"):
        for name, make in _made_by_jobs(pin.site, smith):
            make()
            yield name, found.pop()


def _made_by_jobs(site: Site, smith: User) -> Iterator[tuple[str, Callable[[], object]]]:
    system = KeySystem.objects.filter(sites=site)[0]
    facts = {"site": site, "actor": smith, "reason": "B-12"}
    for kind, contents in CONTENTS.items():
        of_system = kind in {Export.Kind.BITTINGS, Export.Kind.SCHEDULE}
        export = Export(kind=kind, system=system if of_system else None, holds_bittings=True, **facts)
        yield kind, partial(contents.paper, export, contents.read(export), lambda _done: None)
    report = EvidenceReport(site=site, actor=smith, from_on=date(2020, 1, 1), until_on=date(2031, 1, 1))
    yield "evidence", partial(evidence_pdf, evidence_sheet(report))
    yield "labels", partial(print_labels, actor=smith, grid=LabelGrid.objects.get(), choice="free")


def test_no_paper_says_anything_outside_of_the_catalogue(
    made: Asker, known: re.Pattern[str], bracketed: None, set_in_type: list[str], db: None
) -> None:
    # The report of a loss tells its history, which is in English.
    with undone():
        found = list(papers(made, set_in_type))
        told = [*Event.objects.values_list("sentence", flat=True), "printed the report of Loss 1"]
        known = re.compile("|".join((known.pattern, *map(re.escape, told))))
    left = {name: words_left(paper, known) for name, paper in found}
    assert len(left) == len(PRESSED) + len(Export.Kind) + 2
    plain = {name: {words for words in found if not is_allowed(words, name)} for name, found in left.items()}
    assert {name: found for name, found in plain.items() if found} == {}


def test_words_of_ours_are_told_from_what_was_typed() -> None:
    page = """<html lang="de"><title>⟦Doors⟧</title><p>⟦The <b>lock</b> of ⟦door⟧⟧ Front door, B-12
        <input placeholder="Type here" title="⟦Here⟧"><code>so much</code> of size 3
        <span lang="en-GB">moved core</span>"""
    assert words_left(page, re.compile("Front door")) == {"Type here", "of size"}


def test_a_decimal_comma_is_found_where_a_program_reads_it() -> None:
    page = """<p style="left: 7,2mm; top: 1.5mm">7,2</p><rect x="1,5" y="2.5" d="M1,5"/>"""
    assert words_left(page, re.compile("x")) == {"7,2mm;", ' x="1,5'}


def test_nothing_is_allowed_that_is_gone() -> None:
    assert (UNREAD.keys() | PLAIN.keys()) - {""} <= {row.route for row in ASKED}
