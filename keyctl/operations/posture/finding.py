"""What a check found: how it stands, in words that name no bitting and no person."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from django.utils.translation import gettext as _

from keyctl.lib.language import Text


class Level(IntEnum):
    """By how much it matters; `check_security` ends with the highest as its exit code."""

    GOOD = 0
    LOOK = 1
    ACT = 2

    @property
    def words(self) -> str:
        return (_("In order"), _("Look at it"), _("Act now"))[self]


@dataclass(frozen=True)
class Finding:
    level: Level
    words: str


def good(words: str) -> Finding:
    return Finding(Level.GOOD, words)


def look(words: str) -> Finding:
    return Finding(Level.LOOK, words)


def act(words: str) -> Finding:
    return Finding(Level.ACT, words)


@dataclass(frozen=True)
class Check:
    """``name`` stands in what monitors read and stays the same; ``page`` is the route where more is told."""

    name: str
    label: Text
    find: Callable[[], Finding]
    remedy: Text
    page: str = ""


@dataclass(frozen=True)
class Row:
    """``page`` is empty where the reader's roles do not open it."""

    check: Check
    finding: Finding
    page: str = ""

    @property
    def level(self) -> Level:
        return self.finding.level

    @property
    def remedy(self) -> str:
        return "" if self.level == Level.GOOD else str(self.check.remedy)
