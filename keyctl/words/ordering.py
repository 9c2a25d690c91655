"""Words in the order of the alphabet, as the reader's language calls them."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from unicodedata import normalize

from keyctl.words.glossary import WORDS
from keyctl.words.parts import Word


@dataclass(frozen=True)
class Entry:
    word: Word
    related: tuple[Word, ...]


@dataclass(frozen=True)
class Letter:
    letter: str
    entries: tuple[Entry, ...]


def by_letter(words: Iterable[Word] = WORDS.values()) -> list[Letter]:
    entries = [Entry(word, tuple(WORDS[slug] for slug in word.related)) for word in words]
    entries.sort(key=lambda entry: (_filed(str(entry.word)), entry.word.slug))
    return [
        Letter(letter, tuple(found))
        for letter, found in groupby(entries, key=lambda entry: _filed(str(entry.word))[:1].upper())
    ]


def _filed(name: str) -> str:
    """As dictionaries file it: large and small letters alike, and ö as o (DIN 5007, first form).

    >>> sorted(["Ofen", "Öffnung", "oben", "Plan"], key=_filed)
    ['oben', 'Ofen', 'Öffnung', 'Plan']
    """
    return "".join(sign for sign in normalize("NFKD", name.casefold()) if sign.isalnum())
