"""Proposing a top master bitting.

>>> from random import Random
>>> from pinning.formats import load
>>> plain = load("fixed-6")
>>> master = propose_master(plain, Random(3))
>>> all(abs(deeper - cut) <= plain.macs for cut, deeper in zip(master.cuts, master.cuts[1:]))
True
"""

from random import Random

from pinning.bittings import Bitting, bitting_of
from pinning.formats import CoreFormat

__all__ = ["propose_master"]


def propose_master(format: CoreFormat, rng: Random) -> Bitting:
    """A random bitting within the adjacent-cut limit; pass `random.SystemRandom()` for a real system."""
    cuts: list[int] = []
    for _ in range(format.positions):
        cuts.append(rng.choice([cut for cut in format.depth_values if _may_follow(format, cuts, cut)]))
    return bitting_of(format, cuts)


def _may_follow(format: CoreFormat, cuts: list[int], cut: int) -> bool:
    return not cuts or format.macs is None or abs(cut - cuts[-1]) <= format.macs
