"""The proof of an estate: which keys turn and withdraw which cores, from the pins, with nothing left out.

`prove` lays keys and cores out as arrays and joins them (see `joins`). `KeyIndex` needs no more than whole
numbers, for one core at a time: for every position and depth a number holds one bit per key that has that
cut, and a core's answer is, line by line, the AND over positions of the OR over the depths that clear it.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> cores = {"door": pin(a2, ["361492"], "743810")}
>>> texts = {"own": "361492", "ctr": "743810", "other": "000000"}
>>> keys = {name: parse_bitting(a2, text) for name, text in texts.items()}
>>> for proof in prove(cores, keys):
...     print(proof)
Proof(key='own', core='door', operates=True, withdraws=False)
Proof(key='ctr', core='door', operates=False, withdraws=True)
"""

import re
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Generic, TypeVar

from pinning.bittings import Bitting
from pinning.errors import PinningError
from pinning.shear import operating_cuts, withdrawing_cuts
from pinning.stacks import Pinning

__all__ = ["KeyIndex", "Proof", "prove"]

# Long numbers are slow to take apart bit by bit, so their bytes are searched for the few that hold a bit.
ANY_BIT = re.compile(rb"[^\0]")
_BITS_OF = [tuple(bit for bit in range(8) if byte >> bit & 1) for byte in range(256)]

KeyId = TypeVar("KeyId", bound=Hashable)
CoreId = TypeVar("CoreId", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Proof(Generic[KeyId, CoreId]):
    """One key that does something to one core."""

    key: KeyId
    core: CoreId
    operates: bool
    withdraws: bool


class KeyIndex(Generic[KeyId]):
    """Keys arranged so that one core can be asked about all of them at once."""

    def __init__(self, keys: Mapping[KeyId, Bitting]) -> None:
        self.ids = list(keys)
        self.positions = _common_length(keys.values())
        holders: list[dict[int, list[int]]] = [{} for _ in range(self.positions)]
        for place, bitting in enumerate(keys.values()):
            for held, cut in zip(holders, bitting.cuts, strict=True):
                held.setdefault(cut, []).append(place)
        self._kept: list[dict[tuple[int, ...], int]] = [{} for _ in range(self.positions)]
        self._bits = [
            {cut: _bits_of(places, len(self.ids)) for cut, places in held.items()} for held in holders
        ]

    def matching(self, cuts: Sequence[Sequence[int]]) -> int:
        """One bit per key whose every cut is among `cuts` of its position."""
        if self.ids and len(cuts) != self.positions:
            raise PinningError(f"The keys have {self.positions} cuts and a core {len(cuts)} positions.")
        found = (1 << len(self.ids)) - 1
        for place in range(self.positions):
            found &= self._with_any(place, tuple(cuts[place]))
        return found

    def _with_any(self, place: int, cuts: tuple[int, ...]) -> int:
        """One bit per key with one of these cuts there. Cores of a system share their columns: kept."""
        kept = self._kept[place]
        if cuts not in kept:
            kept[cuts] = reduce(or_, (self._bits[place].get(cut, 0) for cut in cuts), 0)
        return kept[cuts]

    def turning(self, pinning: Pinning) -> Iterator[tuple[KeyId, bool, bool]]:
        """(key, operates, withdraws) for each key that does either to this core, in the keys' order."""
        operates = self.matching(operating_cuts(pinning))
        withdraws = self.matching(withdrawing_cuts(pinning))
        size = len(self.ids) // 8 + 1
        at_operating, at_control = operates.to_bytes(size, "little"), withdraws.to_bytes(size, "little")
        for match in ANY_BIT.finditer((operates | withdraws).to_bytes(size, "little")):
            byte = match.start()
            for bit in _BITS_OF[match[0][0]]:
                turns, takes_out = at_operating[byte] >> bit & 1, at_control[byte] >> bit & 1
                yield self.ids[byte * 8 + bit], bool(turns), bool(takes_out)


def prove(
    cores: Mapping[CoreId, Pinning], keys: Mapping[KeyId, Bitting], most: int | None = None
) -> Iterator[Proof[KeyId, CoreId]]:
    """Every pair in which the key operates or withdraws the core, core by core in the given order.

    All cores are of one format and all keys fit it; raises `PinningError` otherwise, and `Refused` (code
    `too_large`) where more than `most` pairs turn at one line, or more than memory should hold.
    """
    if not cores:
        return
    from pinning.sides import CoreSide, KeySide, audit  # NumPy: only whoever proves an estate needs it

    format = next(iter(cores.values())).format
    placed, cut = CoreSide(format, cores), KeySide(format, keys)
    found = audit(cut, placed) if most is None else audit(cut, placed, most)
    for key, core, operates, withdraws in found.effects().rows():
        yield Proof(cut.ids[key], placed.ids[core], operates, withdraws)


def _common_length(bittings: Iterable[Bitting]) -> int:
    lengths = {len(bitting.cuts) for bitting in bittings}
    if len(lengths) > 1:
        raise PinningError("The keys have different numbers of cuts; prove one format at a time.")
    return lengths.pop() if lengths else 0


def _bits_of(places: list[int], size: int) -> int:
    packed = bytearray(size // 8 + 1)
    for place in places:
        packed[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(packed, "little")
