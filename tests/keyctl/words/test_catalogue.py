"""What the catalogue puts into pages: literals of templates are trusted there, so a translation may bring no
sign of markup that its English does not have. A quotation mark would end an attribute."""

import gettext
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

CATALOGUES = sorted(Path(__file__).parents[3].glob("keyctl/locale/*/LC_MESSAGES/*.mo"))


def pairs(file: Path) -> Iterator[tuple[str, str]]:
    """By the standard library's reader of catalogues."""
    with file.open("rb") as content:
        read = gettext.GNUTranslations(content)
    for english, told in read._catalog.items():  # type: ignore[attr-defined]
        text = english[0] if isinstance(english, tuple) else english
        if text:
            yield text, told


def names(text: str) -> set[str]:
    try:
        return {name for _, name, _, _ in Formatter().parse(text) if name}
    except ValueError:
        return set()


@pytest.mark.parametrize("file", CATALOGUES, ids=lambda file: file.parts[-3])
def test_no_translation_brings_markup_or_names_of_its_own(file: Path) -> None:
    wrong = [
        text
        for text, told in pairs(file)
        if any(told.count(sign) > text.count(sign) for sign in '<>"&') or names(told) - names(text)
    ]
    assert wrong == []


@pytest.mark.parametrize("file", CATALOGUES, ids=lambda file: file.parts[-3])
def test_no_sentence_writes_days_by_itself(file: Path) -> None:
    """A month put in by ``%b`` stays English, and nobody's choice of days is heard: `lib.days` hears both."""
    of_days = ("%-d", "%d", "%b", "%B", "%Y", "%m")
    formats = [
        (text, form)
        for text, _ in pairs(file)
        if "{" in text and names(text)
        for _, name, form, _ in Formatter().parse(text)
        if name and form
    ]
    assert [text for text, form in formats if any(sign in form for sign in of_days)] == []


def test_there_is_a_catalogue() -> None:
    assert sum(1 for file in CATALOGUES for _ in pairs(file)) > 5_000
