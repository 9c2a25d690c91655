"""Counts of bittings: exact, by the adjacent-cut rule, without listing them.

Check values: a page of three progressed positions holds 64 changes; with five positions, ten depths and a
limit of 7 there are 79,666 legal bittings; see fixtures/published for where they come from.
"""

from collections.abc import Collection, Sequence
from math import comb

from pinning.formats import CoreFormat

__all__ = ["amplification", "count_bittings", "legal_bittings", "rotating_constant"]


def count_bittings(cuts: Sequence[Collection[int]], macs: int | None) -> int:
    """How many bittings take one of `cuts` in each position with adjacent cuts at most `macs` apart.

    Takes positions x depths squared steps.

    >>> count_bittings([(0, 9), (0, 5, 9)], 5)
    4
    """
    ways: dict[int, int] = {}
    for place, column in enumerate(cuts):
        ways = {
            cut: 1
            if place == 0
            else sum(n for last, n in ways.items() if macs is None or abs(cut - last) <= macs)
            for cut in set(column)
        }
    return sum(ways.values()) if cuts else 1


def legal_bittings(format: CoreFormat) -> int:
    """How many bittings of this format may be cut.

    >>> from pinning.formats import load
    >>> legal_bittings(load("small-a4-6"))
    46656
    """
    return count_bittings([format.depth_values] * format.positions, format.macs)


def rotating_constant(positions: int, depths: int, held: int) -> int:
    """Changes of the rotating constant method: `held` positions keep the master's cut in turn, the others
    take one of `depths` other cuts.

    >>> rotating_constant(6, 4, 3)
    1280
    """
    combinations: int = depths ** (positions - held)
    return comb(positions, held) * combinations


def amplification(format: CoreFormat, cuts: Sequence[int] | None = None) -> tuple[int, int]:
    """(trial cuts, blanks) with which the holder of one change key and its core can at most work out the
    master's bitting, trying each position's other depths (IACR ePrint 2002/160).

    With the change key's `cuts` only depths count that the master can have: of the same series where the
    step is more than one, and within the adjacent-cut limit of some other such depth beside it. One blank
    serves a position, cut deeper from trial to trial.

    >>> from pinning.formats import load
    >>> a2 = load("small-a2-7")
    >>> amplification(a2), amplification(a2, (3, 6, 1, 4, 9, 2, 5))
    ((63, 7), (28, 7))
    """
    columns = [
        [depth for depth in format.depth_values if cuts is None or (depth - cuts[place]) % format.step == 0]
        for place in range(format.positions)
    ]
    trials = [len(column) - 1 for column in _within_limit(columns, format.macs)]
    return sum(trials), sum(1 for number in trials if number > 0)


def _within_limit(columns: list[list[int]], macs: int | None) -> list[list[int]]:
    """The depths of each position that occur in some bitting with adjacent cuts at most `macs` apart."""
    for _ in ("there", "back"):
        for place in range(1, len(columns)):
            columns[place] = [
                depth
                for depth in columns[place]
                if any(macs is None or abs(depth - last) <= macs for last in columns[place - 1])
            ]
        columns = columns[::-1]
    return columns
