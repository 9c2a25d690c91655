"""How long work still takes, by how it went so far; nothing where that cannot be said honestly.

A run notes now and then how far it was and when. The pace is that of the later half of what was watched,
so that work which turns slower, or began slowly, is not judged by its beginning. Where both halves differ
too much there is no pace to speak of.
"""

from collections.abc import Sequence

# (seconds since the run began, steps done by then), in order.
Mark = tuple[float, int]

# Before that long, or before that share of the run's own work, a pace is a guess.
LEAST_SECONDS = 5.0
LEAST_SHARE = 0.02
# A pace is made of that many looks at least: one step says nothing of the next.
LEAST_MARKS = 4
# By how much the later half may be faster or slower than the earlier one.
MOST_UNEVEN = 2.0
# So many marks are kept, spread over the whole run.
MOST_MARKS = 24


def note(marks: Sequence[Mark], seconds: float, done: int) -> list[Mark]:
    """The marks with one more. Where there are too many every second one goes, and never the first."""
    if marks and done < marks[-1][1]:
        return [(seconds, done)]  # it began to count anew
    if marks and done == marks[-1][1]:
        return list(marks)
    kept = [*marks, (seconds, done)]
    return kept if len(kept) <= MOST_MARKS else kept[::2]


def seconds_left(marks: Sequence[Mark], now: float, total: int) -> float | None:
    """None before enough is known, and where the work goes in leaps."""
    if len(marks) < LEAST_MARKS:
        return None
    (began, first), (_, last) = marks[0], marks[-1]
    if now - began < LEAST_SECONDS or last - first < LEAST_SHARE * (total - first):
        return None
    middle = _nearest(marks, began + (now - began) / 2)
    earlier = _pace(marks[0], middle)
    later = _pace(middle, (now, last))
    if not earlier or not later or not 1 / MOST_UNEVEN <= later / earlier <= MOST_UNEVEN:
        return None
    return max(0.0, (total - last) / later)


def _nearest(marks: Sequence[Mark], moment: float) -> Mark:
    """The mark between the first and the last that is nearest to a moment."""
    return min(marks[1:-1], key=lambda mark: abs(mark[0] - moment))


def _pace(one: Mark, other: Mark) -> float:
    """Steps in a second."""
    return (other[1] - one[1]) / (other[0] - one[0]) if other[0] > one[0] else 0.0
