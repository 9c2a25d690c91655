"""Choosing keys for doors: which keys open them all, and how many doors beyond those come with them.

Sets and counts only. ``asked_by`` says which of the asked doors each key opens (every key in it opens at
least one), ``totals`` how many doors each opens anywhere, ``opens`` all the doors of some of the keys.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

Key = TypeVar("Key")
Door = TypeVar("Door")


def key_per_door(
    asked_by: Mapping[Key, frozenset[Door]],
    totals: Mapping[Key, int],
    order: Callable[[Key], Any],
) -> set[Key]:
    """For every asked door the key that by itself adds the fewest extra doors; then more asked doors."""

    def rank(key: Key) -> tuple[int, int, Any]:
        return totals[key] - len(asked_by[key]), -len(asked_by[key]), order(key)

    ranked = sorted(asked_by, key=rank)
    doors = frozenset[Door]().union(*asked_by.values())
    return {next(key for key in ranked if door in asked_by[key]) for door in doors}


def single_key(
    asked_by: Mapping[Key, frozenset[Door]],
    totals: Mapping[Key, int],
    order: Callable[[Key], Any],
) -> Key | None:
    """The key that opens every asked door that any key opens, with the fewest extra doors."""
    doors = frozenset[Door]().union(*asked_by.values())
    whole = [key for key, opened in asked_by.items() if opened == doors]
    return min(whole, key=lambda key: (totals[key], order(key)), default=None)


def without_needless(
    keys: Iterable[Key], opens: Mapping[Key, frozenset[Door]], asked: frozenset[Door]
) -> set[Key]:
    """Leave out keys while the rest still opens every asked door, first the one that saves most doors."""
    kept = set(keys)
    needed = opened_by(kept, opens) & asked
    while spare := [key for key in kept if needed <= opened_by(kept - {key}, opens)]:
        # The fewest doors left open wins; among equals, the key that opens fewest of the asked ones goes.
        kept.remove(
            min(spare, key=lambda key: (len(opened_by(kept - {key}, opens)), len(opens[key] & asked)))
        )
    return kept


def opened_by(keys: Iterable[Key], opens: Mapping[Key, frozenset[Door]]) -> frozenset[Door]:
    return frozenset[Door]().union(*(opens[key] for key in keys))
