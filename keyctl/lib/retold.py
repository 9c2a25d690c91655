"""Sentences that were kept in English, as pages say them: what is kept stays as it is, and is known again by
the text it was made of.

So evidence, which one language keeps, and what a worker wrote down read in the language of whoever looks.
"""

import re
from functools import cache

from django.utils.translation import gettext

from keyctl.lib.marked import PLACE, fill

_texts: set[str] = set()


def register_texts(*texts: str) -> None:
    """Marked by ``gettext_noop``; what stands in their places is told again, too."""
    _texts.update(texts)
    _patterns.cache_clear()


def kept_text(text: str) -> str:
    """A text beside where it is filled and kept: ``GONE = kept_text(gettext_noop("Gone: {count}."))``."""
    register_texts(text)
    return text


def known_texts() -> frozenset[str]:
    return frozenset(_texts)


def retold(told: str) -> str:
    """A sentence that no text fits stays as it was kept."""
    for text, pattern in _patterns().items():
        if found := pattern.fullmatch(told):
            facts = {name: retold(value) for name, value in found.groupdict().items()}
            return fill(gettext(text), facts)
    return told


@cache
def _patterns() -> dict[str, re.Pattern[str]]:
    """Those that begin with a word first, for another may take the beginning of what it stands in for a fact;
    then those with the most words of their own."""
    return {text: _pattern(text) for text in sorted(_texts, key=_rank)}


def _rank(text: str) -> tuple[bool, int, str]:
    return bool(PLACE.match(text)), -len(PLACE.sub("", text)), text


def _pattern(text: str) -> re.Pattern[str]:
    """Every other part is the name of a place."""
    parts = PLACE.split(text)
    marks = "".join(f"(?P<{part}>.+?)" if nth % 2 else re.escape(part) for nth, part in enumerate(parts))
    return re.compile(marks, re.DOTALL)
