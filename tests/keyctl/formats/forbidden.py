"""What the constraints of the blank table forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.formats.models import KeywayFit
from tests.cast import Cast


def a_blank(cast: Cast, **facts: Any) -> None:
    row = {"blank_keyway": "THIN", "core_keyway": "WIDE", "reason": "Tried", "made_by": cast.locksmith}
    KeywayFit.objects.create(**row | facts)


def a_blank_told_twice(cast: Cast) -> None:
    for _ in range(2):
        a_blank(cast)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "keyway_fit_is_told_once": a_blank_told_twice,
    "keyway_fit_is_between_two_keyways": lambda cast: a_blank(cast, blank_keyway="WIDE"),
    "keyway_fit_names_both_and_why": lambda cast: a_blank(cast, reason=""),
}
