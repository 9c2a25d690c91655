"""Proposing a top master bitting, and drawing one from columns of cuts.

In a two-step system every key has the parity of the top master in each position (common practice), so that
the parity pattern of the system is that of its top master. It may be asked for: E for even, O for odd.

>>> from random import Random
>>> from pinning.formats import load
>>> plain = load("fixed-6")
>>> master = propose_master(plain, Random(3))
>>> all(abs(deeper - cut) <= plain.macs for cut, deeper in zip(master.cuts, master.cuts[1:]))
True
>>> [cut % 2 for cut in propose_master(plain, Random(3), "EOOEOE").cuts]
[0, 1, 1, 0, 1, 0]
"""

from collections.abc import Collection, Sequence
from random import Random

from pinning.bittings import Bitting, bitting_of
from pinning.errors import Refusal, Refused
from pinning.formats import CoreFormat
from pinning.wording import said

__all__ = ["propose_master", "random_cuts"]

REMAINDERS = {"E": 0, "O": 1}


def propose_master(format: CoreFormat, rng: Random, parity: str | None = None) -> Bitting:
    """A random bitting within the adjacent-cut limit; pass `random.SystemRandom()` for a real system.

    Raises `Refused` (code `parity`) if the pattern does not fit the format, or no such bitting may be cut.
    """
    if parity is None:
        return _walked(format, rng)
    _refuse_pattern(format, parity)
    columns = [
        tuple(cut for cut in format.depth_values if cut % 2 == REMAINDERS[letter]) for letter in parity
    ]
    cuts = random_cuts(format, columns, rng)
    if cuts is None:
        message = said(
            "No key of this parity pattern keeps to the adjacent-cut limit; choose another pattern."
        )
        raise Refused([Refusal("parity", message)])
    return bitting_of(format, cuts)


def random_cuts(format: CoreFormat, columns: Sequence[Sequence[int]], rng: Random) -> tuple[int, ...] | None:
    """One random bitting from `columns` within the adjacent-cut limit; None if there is none.

    From the last position backwards only cuts that can be continued are kept, so the walk forward never
    fails.
    """
    open_ends: list[tuple[int, ...]] = [tuple(columns[-1])]
    for column in reversed(columns[:-1]):
        open_ends.insert(0, tuple(cut for cut in column if _next_to(format, cut, open_ends[0])))
    walked: list[int] = []
    for column in open_ends:
        choices = [cut for cut in column if not walked or _next_to(format, cut, walked[-1:])]
        if not choices:
            return None
        walked.append(rng.choice(choices))
    return tuple(walked)


def _walked(format: CoreFormat, rng: Random) -> Bitting:
    cuts: list[int] = []
    for _ in range(format.positions):
        near = [cut for cut in format.depth_values if not cuts or _next_to(format, cut, cuts[-1:])]
        cuts.append(rng.choice(near))
    return bitting_of(format, cuts)


def _refuse_pattern(format: CoreFormat, parity: str) -> None:
    if format.step != 2:
        message = said(
            "Only a two-step system has a parity pattern; this format's step is {step}.", step=format.step
        )
        raise Refused([Refusal("parity", message)])
    if len(parity) != format.positions or not set(parity) <= set(REMAINDERS):
        message = said(
            "A parity pattern has E for even or O for odd in each of the {positions} positions.",
            positions=format.positions,
        )
        raise Refused([Refusal("parity", message)])


def _next_to(format: CoreFormat, cut: int, others: Collection[int]) -> bool:
    return any(format.macs is None or abs(cut - other) <= format.macs for other in others)
