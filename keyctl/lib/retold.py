"""Sentences that were kept in English, as pages say them: what is kept stays as it is, and is known again by
the text it was made of.

So evidence, which one language keeps, and what a worker wrote down read in the language of whoever looks.
"""

import re

from django.utils.translation import gettext

from keyctl.lib.marked import PLACE, fill

# Those with the most words of their own first.
_texts: dict[str, re.Pattern[str]] = {}


def register_texts(*texts: str) -> None:
    """Marked by ``gettext_noop``; what stands in their places is told again, too."""
    known = _texts | {text: _pattern(text) for text in texts}
    _texts.clear()
    _texts.update(sorted(known.items(), key=lambda item: -len(PLACE.sub("", item[0]))))


def retold(told: str) -> str:
    """A sentence that no text fits stays as it was kept."""
    for text, pattern in _texts.items():
        if found := pattern.fullmatch(told):
            facts = {name: retold(value) for name, value in found.groupdict().items()}
            return fill(gettext(text), facts)
    return told


def _pattern(text: str) -> re.Pattern[str]:
    """Every other part is the name of a place."""
    parts = PLACE.split(text)
    marks = "".join(f"(?P<{part}>.+?)" if nth % 2 else re.escape(part) for nth, part in enumerate(parts))
    return re.compile(marks, re.DOTALL)
