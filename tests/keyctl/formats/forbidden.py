"""What the constraints of the blank table forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.formats.models import KeywayFit, ShopFormat
from tests.cast import Cast


def a_blank(cast: Cast, **facts: Any) -> None:
    row = {"blank_keyway": "THIN", "core_keyway": "WIDE", "reason": "Tried", "made_by": cast.locksmith}
    KeywayFit.objects.create(**row | facts)


def a_blank_told_twice(cast: Cast) -> None:
    for _ in range(2):
        a_blank(cast)


def a_format(cast: Cast, **facts: Any) -> None:
    row = {"format_id": "house-a", "name": "House A", "construction": "small-format", "parameters": {}}
    ShopFormat.objects.create(made_by=cast.locksmith, **row | facts)


def two_formats(cast: Cast, **second: Any) -> None:
    a_format(cast)
    a_format(cast, **second)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "shop_format_id_is_unique": lambda cast: two_formats(cast, name="House B"),
    "shop_format_name_is_unique_in_use": lambda cast: two_formats(cast, format_id="house-b"),
    "shop_format_is_named": lambda cast: a_format(cast, name=""),
    "shop_format_is_retired_after_it_was_made": lambda cast: a_format(
        cast, retired_at=timezone.now() - timedelta(days=1)
    ),
    "keyway_fit_is_told_once": a_blank_told_twice,
    "keyway_fit_is_between_two_keyways": lambda cast: a_blank(cast, blank_keyway="WIDE"),
    "keyway_fit_names_both_and_why": lambda cast: a_blank(cast, reason=""),
}
