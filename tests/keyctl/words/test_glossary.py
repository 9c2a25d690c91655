"""The glossary against the templates that use it, and each word by what the project asks of it."""

import html
import re
from collections import Counter
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template
from django.test import Client
from django.utils import translation

from keyctl.words import sources
from keyctl.words.glossary import _ALL, WORDS
from keyctl.words.ordering import by_letter
from keyctl.words.parts import Word
from keyctl.words.sources import Source
from tests.factories import make_user

TEMPLATES = Path(settings.BASE_DIR) / "templates"
# What a source may be: an open standard or public text by its number or full name, or said to be none.
NAMED = re.compile(
    r"ANSI/BHMA A156\.\d+|NFPA \d+|NIST SP 800-\d+|RFC \d{4}|ISO \d+|W3C |29 CFR |ADA Standards|NBIMS-US|"
    r"Standard Webhooks|Keynotes \d{4}-\d\d|Professional Locksmith Dictionary|no source|own word"
)


def used() -> Counter[str]:
    """Slugs that templates name, with how often."""
    texts = (file.read_text(encoding="utf-8") for file in TEMPLATES.rglob("*.html"))
    return Counter(slug for text in texts for slug in re.findall(r'{% term "([^"]*)" %}', text))


def test_every_word_that_a_template_explains_is_in_the_glossary() -> None:
    assert set(used()) - set(WORDS) == set()


def test_words_are_explained_where_they_are_met_first() -> None:
    assert len(used()) >= 25


def test_every_tag_names_its_word_outright() -> None:
    """One that a variable named could not be held against the glossary."""
    texts = (file.read_text(encoding="utf-8") for file in TEMPLATES.rglob("*.html"))
    assert sum(text.count("{% term ") for text in texts) == sum(used().values())


def test_no_word_stands_twice() -> None:
    assert [slug for slug, n in Counter(w.slug for words in _ALL for w in words).items() if n > 1] == []
    assert [name for name, n in Counter(str(w).casefold() for w in WORDS.values()).items() if n > 1] == []


@pytest.mark.parametrize("word", WORDS.values(), ids=lambda word: word.slug)
def test_a_word_has_a_meaning_a_source_and_known_neighbours(word: Word) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", word.slug)
    assert str(word.meaning).endswith(".")
    assert NAMED.search(str(word.source.name))
    assert set(word.related) <= set(WORDS) - {word.slug}


# The only names with a capital inside a sentence: symbols of keys, and abbreviations.
PROPER = {"A", "AA", "AA1", "SKD1", "SKD2", "TPP"}


@pytest.mark.parametrize("word", WORDS.values(), ids=lambda word: word.slug)
def test_no_meaning_names_a_maker_or_a_person(word: Word) -> None:
    """A name begins with a capital where no sentence does."""
    sentences = re.split(r"(?<=[.:]) ", str(word.meaning))
    capitals = {name for each in sentences for name in re.findall(r"(?<=[ (])[A-Z]\w*", each)}
    assert capitals - PROPER == set()


def test_every_source_is_the_source_of_something() -> None:
    kept = {name for name, value in vars(sources).items() if isinstance(value, Source)}
    assert {
        name for name in kept if not any(w.source == getattr(sources, name) for w in WORDS.values())
    } == set()


def test_words_are_filed_as_the_reader_calls_them() -> None:
    """DIN 5007-1 files ö as o; here with names of the test's own."""
    invented = [
        Word(slug, name, "–", sources.OWN) for slug, name in (("a", "Öse"), ("b", "Ort"), ("c", "ader"))
    ]
    found = by_letter(invented)
    assert [(each.letter, [str(entry.word) for entry in each.entries]) for each in found] == [
        ("A", ["ader"]),
        ("O", ["Ort", "Öse"]),
    ]


def test_a_term_leads_to_the_glossary_and_tells_its_meaning() -> None:
    source = '{% load terms %}{% term "bow" %}<b>&amp; bow</b>{% endterm %}'
    shown = Template(source).render(Context())
    meaning = html.escape(str(WORDS["bow"].meaning), quote=True)
    assert shown == f'<a class="term" href="/words/#bow" aria-description="{meaning}"><b>&amp; bow</b></a>'


def test_what_a_term_holds_is_escaped() -> None:
    shown = Template('{% load terms %}{% term "bow" %}{{ x }}{% endterm %}').render(Context({"x": "<i>"}))
    assert "&lt;i&gt;" in shown


@pytest.mark.django_db
def test_the_page_tells_every_word_at_its_anchor(client: Client) -> None:
    client.force_login(make_user())
    page = client.get("/words/").content.decode()
    assert page.count("<dt>") == len(WORDS)
    for word in WORDS.values():
        told = page.split(f'<div id="{word.slug}"><dt>')[1].split("</div>")[0]
        plain = html.unescape(re.sub(r"<[^>]+>", "", told))
        assert str(word.meaning) in plain
        assert str(word.source.name) in plain
        assert ("(from memory)" in plain) == word.source.is_from_memory
        assert set(re.findall(r'href="#([^"]+)"', told)) == set(word.related)


@pytest.mark.django_db
def test_the_page_asks_for_a_sign_in(client: Client) -> None:
    assert client.get("/words/").status_code == 302


def test_names_are_told_late() -> None:
    """A name that was fixed when the program began would stay English in every language."""
    with translation.override("de"):
        assert all(not isinstance(text, str) for word in WORDS.values() for text in (word.name, word.meaning))
