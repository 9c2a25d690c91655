"""How a shop uses its key bitting array, which tells where cores alone leave two cuts alike.

Of a system used in part, some positions hold the same two cuts in every core, and the pins do not say which
one is the master's. Two things lean one way. First, change keys are mostly cut in some order of the array:
shallow to deep, deep to shallow, or up or down from the master's cut; the cuts seen beside the master's are
then the first ones of that order. One habit holds for all positions, so settled positions show it. Second,
a position's change cuts are used as often as they were seen so far (a Dirichlet-multinomial with a quarter of
each cut to begin with): after thirty cores with one change cut, another one there is rather a misread core.

Before anything is seen the habits weigh 0.2, 0.1, 0.2 and 0.1, and no habit 0.4. Under a habit the cuts seen
are the first of the order with a chance of 0.9, else any as many of the array; without one, any as many.

>>> from pinning.formats import load
>>> a2 = load("small-a2-5")
>>> favour(a2, (8, 8, 8, 8, 8), [frozenset({0, 2})] * 5) > 10
True
>>> favour(a2, (4, 4, 4, 4, 4), [frozenset({0, 8})] * 5) < 1
True
"""

from collections import Counter
from collections.abc import Sequence
from math import comb, lgamma, log, prod

from pinning.evidence import Cuts, SeenCore, series
from pinning.formats import CoreFormat

__all__ = ["AT_FIRST", "favour", "orders", "spread", "usage"]

WEIGHTS = (0.2, 0.1, 0.2, 0.1)
KEEPS_TO_IT = 0.9
AT_FIRST = 0.25  # of each change cut, before any is seen
# From so many cores on, a change cut seen once may be a misread one and tells no habit.
MANY_CORES = 6


def orders(format: CoreFormat, master: int) -> tuple[tuple[int, ...], ...]:
    """The array of a position under each habit: shallow first, deep first, up and down from the master."""
    own = series(format, master)
    place = own.index(master)
    rest = own[:place] + own[place + 1 :]
    up = own[place + 1 :] + own[:place]
    return rest, rest[::-1], up, up[::-1]


def favour(format: CoreFormat, master: Sequence[int], used: Sequence[frozenset[int]]) -> float:
    """How much likelier these change cuts are than under a shop without habits: 0.5 or more."""
    ratios = [_ratios(format, cut, cuts) for cut, cuts in zip(master, used, strict=True)]
    kept = [weight * prod(column) for weight, column in zip(WEIGHTS, zip(*ratios, strict=True), strict=True)]
    return float(1 - sum(WEIGHTS) + sum(kept))


def spread(format: CoreFormat, master: int, counts: Sequence[int]) -> float:
    """The logarithm of how much likelier these numbers of cores per change cut are than evenly spread ones.

    >>> from pinning.formats import load
    >>> spread(load("small-a2-5"), 0, [30]) > 20, spread(load("small-a2-5"), 0, [2, 2, 2, 2]) < 0
    (True, True)
    """
    size, total = len(series(format, master)) - 1, sum(counts)
    if size < 1:
        return 0.0
    urn = lgamma(size * AT_FIRST) - lgamma(size * AT_FIRST + total)
    drawn = sum(lgamma(count + AT_FIRST) - lgamma(AT_FIRST) for count in counts)
    return urn + drawn + total * log(size)


def _ratios(format: CoreFormat, master: int, used: frozenset[int]) -> tuple[float, ...]:
    """Per habit, the chance of the cuts used in a position over their chance without one."""
    columns = orders(format, master)
    any_as_many = comb(len(columns[0]), len(used))
    return tuple(
        KEEPS_TO_IT * any_as_many * (set(column[: len(used)]) == used) + 1 - KEEPS_TO_IT for column in columns
    )


def usage(format: CoreFormat, master: Cuts, members: Sequence[SeenCore]) -> float:
    """The logarithm of how well the members' change cuts go with how shops use an array."""
    columns = [_counted(format, members, place, cut) for place, cut in enumerate(master)]
    least = 2 if len(members) >= MANY_CORES else 1
    used = [frozenset(cut for cut, count in column.items() if count >= least) for column in columns]
    spreads = (
        spread(format, cut, list(column.values())) for cut, column in zip(master, columns, strict=True)
    )
    return sum(spreads) + log(favour(format, master, used))


def _counted(format: CoreFormat, members: Sequence[SeenCore], place: int, cut: int) -> Counter[int]:
    """In how many cores each change cut stands beside the master's, in a position with pins."""
    own = frozenset(series(format, cut))
    pinned = (core for core in members if len(core.columns[place][0]) < len(format.depth_values))
    return Counter(other for core in pinned for other in core.beside(place, cut) & own)
