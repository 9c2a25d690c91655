"""The arithmetic of the report: shares of a list of seconds, and how steeply a line of samples climbs."""

from collections.abc import Sequence


def percentile(values: Sequence[float], share: float) -> float:
    """By linear interpolation between the two nearest ranks (type 7 of Hyndman and Fan, 1996)."""
    ordered = sorted(values)
    if not ordered:
        raise ValueError("no values")
    place = (len(ordered) - 1) * share
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


def slope(samples: Sequence[tuple[float, float]]) -> float:
    """Of the straight line with the least squared error through (moment, value); 0 for fewer than two."""
    count = len(samples)
    if count < 2:
        return 0.0
    middle_x = sum(x for x, _ in samples) / count
    middle_y = sum(y for _, y in samples) / count
    spread = sum((x - middle_x) ** 2 for x, _ in samples)
    if not spread:
        return 0.0
    return sum((x - middle_x) * (y - middle_y) for x, y in samples) / spread


def settled(samples: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The last two thirds of the time: what a process takes to get going is no leak."""
    if not samples:
        return []
    first, last = samples[0][0], samples[-1][0]
    return [each for each in samples if each[0] >= first + (last - first) / 3]
