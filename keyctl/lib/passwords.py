"""Words that stand on the door: a password made of them is the first that anybody tries."""

import re
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

# What the house is about, in the words of its pages.
TRADE = (
    "keyctl",
    "locksmith",
    "administrator",
    "security",
    "password",
    "officer",
    "auditor",
    "manager",
    "master",
)
# So much must be left of it besides them.
LEAST_LEFT = 6
SHORTEST_WORD = 4


class NoWordsOfTheHouse:
    """Refuses a password that is little more than the product, its host, or KEYCTL_PASSWORD_WORDS."""

    def validate(self, password: str, user: object = None) -> None:  # noqa: ARG002 (the framework's form)
        if len(_besides(password)) < LEAST_LEFT:
            raise ValidationError(
                _("This password is made of words that anybody here would try first. Choose others."),
                code="password_of_the_house",
            )

    def get_help_text(self) -> str:
        return _("Nothing made of the words of this house.")


def words_of_the_house() -> list[str]:
    """Longest first, so that none is taken apart by a shorter one."""
    labels = (urlsplit(settings.BASE_URL).hostname or "").split(".")
    words = {
        word.lower() for word in (*TRADE, *labels, *settings.PASSWORD_WORDS) if len(word) >= SHORTEST_WORD
    }
    return sorted(words, key=lambda word: (-len(word), word))


def _besides(password: str) -> str:
    """What is left without those words, and without the figures and signs between them."""
    found = password.lower()
    had = any(word in found for word in words_of_the_house())
    for word in words_of_the_house():
        found = found.replace(word, "")
    return re.sub(r"[\W\d_]+", "", found) if had else password
