"""A guide cannot go stale: each page it links to answers, and each control it names is called so there.

The referee is the product's own pages, asked by the people of the permission matrix about one of everything.
What the state of that scene hides (a button of another state) must stand word for word in the templates or
the code of the same app.
"""

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from keyctl.guides.parts import Block, Commands, Control, Guide, Page, Picture
from keyctl.guides.shelf import GUIDES
from keyctl.places.roles import Role
from tests.cast import gather
from tests.factories import make_user
from tests.matrix.asking import Asker, quiet
from tests.matrix.exceptions import sent
from tests.matrix.people import gather_sessions
from tests.scenes import build_routes

pytestmark = pytest.mark.django_db

ROOT = Path(settings.BASE_DIR)
KEPT = ROOT / ".pictures"
HEAVIEST = 60_000
PEOPLE = ("administrator", "locksmith", "desk", "manager", "officer", "auditor", "requester")
BY_GUIDE = pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.slug)


@pytest.fixture(scope="module")
def asker(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Asker]:
    with django_db_blocker.unblock(), transaction.atomic(), quiet():
        cast = gather()
        sessions = gather_sessions(cast)
        base, objects = build_routes(cast)
        yield Asker(sessions, objects, sent(base, objects), {})
        transaction.set_rollback(True)


def parts_of(guide: Guide) -> Iterator[Page | Control]:
    for section in guide.sections:
        for block in section.blocks:
            if isinstance(block, Block):
                yield from (part for part in block.parts.values() if isinstance(part, Page | Control))


def blocks_of(guide: Guide, kind: type) -> Iterator[object]:
    for section in guide.sections:
        yield from (block for block in section.blocks if isinstance(block, kind))


def answers(asker: Asker, route: str) -> Iterator[str]:
    """The words of the page, as one after the other sees it who may."""
    for who in PEOPLE:
        answer = asker.ask(who, route, "GET")
        if answer.status_code == 200 and not answer.streaming:
            yield " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())
        elif answer.status_code == 302:
            # The page of the site, where a person has one only.
            yield ""


def sources_of(route: str) -> str:
    app = route.partition(":")[0]
    files = [*(ROOT / "templates" / app).rglob("*.html"), *(ROOT / "keyctl" / app).rglob("*.py")]
    return "".join(file.read_text(encoding="utf-8") for file in files)


def test_every_page_that_a_guide_links_to_answers(asker: Asker) -> None:
    routes = {part.route for guide in GUIDES for part in parts_of(guide) if isinstance(part, Page)}
    assert {route for route in routes if next(answers(asker, route), None) is None} == set()
    assert all(reverse(route) for route in routes)


def test_every_control_is_called_so_on_its_page(asker: Asker) -> None:
    named = {(c.route, str(c.words)) for g in GUIDES for c in parts_of(g) if isinstance(c, Control)}
    assert {(route, words) for route, words in named if not is_called_so(asker, route, words)} == set()


def test_a_control_that_was_renamed_is_found_out(asker: Asker) -> None:
    assert not is_called_so(asker, "places:people", "Press this")


def is_called_so(asker: Asker, route: str, words: str) -> bool:
    # What stands in the source of the app and on its page both: the page first, for the source is no proof.
    return any(words in seen for seen in answers(asker, route)) or f'"{words}"' in sources_of(route)


@BY_GUIDE
def test_every_text_names_its_parts_and_no_other(guide: Guide) -> None:
    for block in blocks_of(guide, Block):
        assert isinstance(block, Block)
        assert set(re.findall(r"{(\w+)}", str(block.text))) == set(block.parts)
        assert block.html


def test_pictures_exist_are_light_and_none_is_an_orphan() -> None:
    pictures = [each for guide in GUIDES for each in blocks_of(guide, Picture)]
    named = {each.name for each in pictures if isinstance(each, Picture)}
    readme = set(re.findall(r"\.pictures/([\w-]+)\.", (ROOT / "README.md").read_text(encoding="utf-8")))
    kept = {file.stem: file.stat().st_size for file in KEPT.iterdir()}
    assert named | readme == set(kept)
    assert {name: size for name, size in kept.items() if size > HEAVIEST} == {}


def test_every_command_is_one_of_ours() -> None:
    lines = "\n".join(
        each.lines for guide in GUIDES for each in blocks_of(guide, Commands) if isinstance(each, Commands)
    )
    commands = set(re.findall(r"manage\.py (\w+)", lines))
    assert commands
    assert commands <= set(get_commands())


def test_every_role_of_people_has_a_guide() -> None:
    assert {role for guide in GUIDES for role in guide.roles} == set(Role) - {Role.INTEGRATION}


@BY_GUIDE
def test_the_page_shows_each_text_with_true_links(guide: Guide, client: Client) -> None:
    client.force_login(make_user())
    page = client.get(reverse("guides:guide", args=[guide.slug])).content.decode()
    plain = " ".join(html.unescape(re.sub(r"<[^>]+>", "", page)).split())
    for block in blocks_of(guide, Block):
        assert isinstance(block, Block)
        words = {
            name: str(getattr(part, "label", "") or getattr(part, "words", "") or getattr(part, "text", ""))
            for name, part in block.parts.items()
        }
        assert str(block.text).format(**words) in plain
    for part in parts_of(guide):
        if isinstance(part, Page):
            assert f'<a href="{reverse(part.route)}">{part.label}</a>' in page
