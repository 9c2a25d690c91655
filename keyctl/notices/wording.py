"""What may stand in a message: one line where a line is meant, and an address that can be one."""

import unicodedata
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.template import Context
from django.template.loader import get_template

# Control signs end a header; line and paragraph separators do so for some readers. Signs that turn the
# direction of reading let a name pass for another.
_ENDS_A_LINE = {"Cc", "Zl", "Zp", "Cs"}
_TURNS_READING = set("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def one_line(text: str, longest: int = 1000) -> str:
    """
    >>> one_line("Keys due\\r\\nBcc: everybody@example.org")
    'Keys due Bcc: everybody@example.org'
    >>> one_line("abcdefgh", 5)
    'abcd…'
    """
    kept = (" " if unicodedata.category(sign) in _ENDS_A_LINE else sign for sign in text)
    line = " ".join("".join(sign for sign in kept if sign not in _TURNS_READING).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def is_address(text: str) -> bool:
    """
    >>> [is_address(text) for text in ("a@example.org", "a@example.org\\nBcc: b@example.org", "a", "")]
    [True, False, False, False]
    """
    try:
        validate_email(text)
    except ValidationError:
        return False
    return len(text) <= 254


def written(template: str, facts: dict[str, Any]) -> tuple[str, str]:
    """Subject and body: the first line of the template, and what follows it. Plain text, nothing escaped."""
    facts = {name: one_line(fact) if isinstance(fact, str) else fact for name, fact in facts.items()}
    context = Context({"base_url": settings.BASE_URL, **facts}, autoescape=False)
    # A template out of the loader wraps the engine's own, which alone takes a context that escapes nothing.
    text = get_template(f"emails/{template}.txt").template.render(context)  # type: ignore[attr-defined]
    subject, _, body = text.strip().partition("\n")
    lines = (line.rstrip() for line in body.replace("\r", "\n").split("\n"))
    return one_line(subject), "\n".join(lines).strip() + "\n"
