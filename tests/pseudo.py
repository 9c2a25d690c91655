"""A language that nobody speaks: German, where each text that was given to translate comes back in brackets.

What is put into a text stands outside of them, so that it is asked for itself.
"""

import re

import pytest
from django.utils import translation

from keyctl.formats.naming import NAMES

PUT_IN = re.compile(r"(%\(\w+\)[sd]|%[sd]|\{\w*\})")


def pseudo(text: str) -> str:
    if not text or translation.get_language() != "de":
        return text
    # A family of pins is called by what the names of its formats have in common, comma by comma.
    parts = text.split(", ") if text in NAMES else [text]
    return ", ".join("".join(map(_in_brackets, PUT_IN.split(part))) for part in parts)


def _in_brackets(part: str) -> str:
    return part if not part.strip() or PUT_IN.fullmatch(part) else f"⟦{part}⟧"


def speak(monkeypatch: pytest.MonkeyPatch) -> None:
    """In place of the German catalogue."""
    real = translation._trans  # type: ignore[attr-defined]
    for name, said in {
        "gettext": pseudo,
        "pgettext": lambda _context, text: pseudo(text),
        "ngettext": lambda one, many, count: pseudo(one if count == 1 else many),
        "npgettext": lambda _context, one, many, count: pseudo(one if count == 1 else many),
    }.items():
        monkeypatch.setattr(real, name, said, raising=False)
