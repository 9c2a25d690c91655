"""What a text may be: said already, or said when it is shown, in the language of whoever looks at it then."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

from django.utils import translation
from django.utils.functional import Promise

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

    Text = StrOrPromise
else:
    Text = str | Promise


# What evidence and programs are told in.
ENGLISH = "en-gb"


def english() -> AbstractContextManager[None]:
    """For what is kept in a row, and for all that is told in one language."""
    return translation.override(ENGLISH)


def in_english(told: object | Callable[[], object]) -> str:
    """As history says it: evidence is kept in one language, whoever did it and however their pages speak."""
    with english():
        return str(told() if callable(told) else told)


def in_sentence(label: object) -> str:
    """A label in the midst of a sentence: English writes it small, other languages keep their capitals.

    >>> in_sentence("Master key")
    'master key'
    >>> with translation.override("de"):
    ...     in_sentence("Hauptschlüssel")
    'Hauptschlüssel'
    """
    words = str(label)
    return words.lower() if (translation.get_language() or "en").startswith("en") else words
