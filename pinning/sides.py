"""Keys and cores of one format laid out as arrays, and every key against every core at both lines.

Keys are on ordinary blanks (see `shear.turn`).

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> keys = KeySide(a2, {name: parse_bitting(a2, name) for name in ("361492", "743810", "000000")})
>>> cores = CoreSide(a2, {"door": pin(a2, ["361492"], "743810")})
>>> found = audit(keys, cores)
>>> keys.ids[found.operates.keys[0]], cores.ids[found.withdraws.cores[0]], len(found.operates)
('361492', 'door', 1)
"""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from pinning.bitrows import CoreRows, KeyRows
from pinning.bittings import Bitting
from pinning.columns import Pinning, PinStack
from pinning.errors import PinningError
from pinning.figures import CoreFormat
from pinning.joins import MOST_PAIRS, Pairs, join
from pinning.runs import Ints
from pinning.shear import cuts_clearing
from pinning.tries import Boxes, BoxTrie, Cuts, KeyTrie

__all__ = ["Audit", "CoreSide", "Effects", "KeySide", "audit"]

Flags = NDArray[np.bool_]
KEY_BITS = 0xFFFFFFFF

KeyId = TypeVar("KeyId", bound=Hashable)
CoreId = TypeVar("CoreId", bound=Hashable)


class KeySide(Generic[KeyId]):
    """Keys of one format. `cuts` is (keys, positions): depths by their place among the format's depths.

    Raises `PinningError` for a key that is not of the format.
    """

    def __init__(self, format: CoreFormat, keys: Mapping[KeyId, Bitting]) -> None:
        self.format = format
        self.ids = list(keys)
        self.cuts: Cuts = _ranks(format, list(keys.values()))

    @cached_property
    def trie(self) -> KeyTrie:
        return KeyTrie(self.cuts, len(self.format.depth_values))

    @cached_property
    def rows(self) -> KeyRows:
        return KeyRows(self.cuts, len(self.format.depth_values))

    def turning(self, pinning: Pinning) -> tuple[Ints, Ints]:
        """The places in `ids` of the keys that operate this one core, and of those that withdraw it."""
        if pinning.format != self.format:
            raise PinningError("The core is of another format than the keys; prove one format at a time.")
        operating, withdrawing = (self._passing(box) for box in _boxes(self.format, [pinning]))
        return operating, withdrawing

    def _passing(self, boxes: Boxes) -> Ints:
        """One core at one line, or none that has this line."""
        return self.rows.keys_of(boxes[0].tolist()) if len(boxes) else np.zeros(0, np.int32)


class CoreSide(Generic[CoreId]):
    """Cores of one format. `operating` and `withdrawing` are (cores, positions): sets of depths as bits.

    `withdrawing` has no rows where no key on an ordinary blank takes a core out. Raises `PinningError` for
    a core of another format.
    """

    def __init__(self, format: CoreFormat, cores: Mapping[CoreId, Pinning]) -> None:
        self.format = format
        self.ids = list(cores)
        if any(pinning.format != format for pinning in cores.values()):
            raise PinningError("The cores are of several formats; prove one format at a time.")
        self.operating, self.withdrawing = _boxes(format, list(cores.values()))

    @cached_property
    def tries(self) -> tuple[BoxTrie, BoxTrie]:
        depths = len(self.format.depth_values)
        return BoxTrie(self.operating, depths), BoxTrie(self.withdrawing, depths)

    @cached_property
    def rows(self) -> tuple[CoreRows, CoreRows]:
        depths = len(self.format.depth_values)
        return CoreRows(self.operating, depths), CoreRows(self.withdrawing, depths)

    def change(self, place: int, pinning: Pinning) -> None:
        """The core at this place in `ids` has other pins now."""
        self.__dict__.pop("tries", None)
        boxes = _boxes(self.format, [pinning])
        for kept, rows, new in zip((self.operating, self.withdrawing), self.rows, boxes, strict=True):
            if len(new):
                kept[place] = new[0]
                rows.change(place, new[0].tolist())

    def turned_by(self, bitting: Bitting) -> tuple[Ints, Ints]:
        """The places in `ids` of the cores that this one key operates, and of those that it withdraws."""
        cuts = _ranks(self.format, [bitting])[0].tolist()
        operated, withdrawn = self.rows
        return operated.cores_of(cuts), withdrawn.cores_of(cuts)


@dataclass(frozen=True, slots=True)
class Audit:
    """What turns what at each line, by places in the ids of the two sides."""

    operates: Pairs
    withdraws: Pairs

    def effects(self) -> "Effects":
        """Both lines in one list, sorted by core and then by key."""
        operating, withdrawing = (_codes(pairs) for pairs in (self.operates, self.withdraws))
        codes = np.union1d(operating, withdrawing)
        return Effects(
            (codes & KEY_BITS).astype(np.int32),
            (codes >> 32).astype(np.int32),
            np.isin(codes, operating, assume_unique=True),
            np.isin(codes, withdrawing, assume_unique=True),
        )


@dataclass(frozen=True, slots=True)
class Effects:
    """Side by side: the places of a key and a core, and what the key does to it."""

    keys: Ints
    cores: Ints
    operates: Flags
    withdraws: Flags

    def rows(self) -> Iterator[tuple[int, int, bool, bool]]:
        """(key, core, operates, withdraws)."""
        columns = (self.keys, self.cores, self.operates, self.withdraws)
        return zip(*(column.tolist() for column in columns), strict=True)


def audit(keys: KeySide[KeyId], cores: CoreSide[CoreId], most: int = MOST_PAIRS) -> Audit:
    """Every pair, at both lines. Raises `Refused` (code `too_large`) past `most` pairs at a line."""
    if keys.format != cores.format:
        raise PinningError("Keys and cores are of different formats; prove one format at a time.")
    operating, withdrawing = (join(keys.trie, trie, most) for trie in cores.tries)
    return Audit(operating, withdrawing)


def _codes(pairs: Pairs) -> NDArray[np.int64]:
    return pairs.cores.astype(np.int64) << 32 | pairs.keys


def _ranks(format: CoreFormat, keys: Sequence[Bitting]) -> Cuts:
    values = format.depth_values
    if any(len(key.cuts) != format.positions for key in keys):
        lengths = " or ".join(map(str, sorted({len(key.cuts) for key in keys})))
        raise PinningError(f"The keys have {lengths} cuts and a core {format.positions} positions.")
    cuts = np.array([key.cuts for key in keys], np.int32).reshape(len(keys), format.positions)
    known = np.array(values, np.int32)
    ranks = np.searchsorted(known, cuts).clip(max=len(values) - 1)
    if (known[ranks] != cuts).any():
        raise PinningError("A key has a cut that is no depth of the format; read it by its format first.")
    return ranks.astype(np.uint8)


def _boxes(format: CoreFormat, cores: Sequence[Pinning]) -> tuple[Boxes, Boxes]:
    """Cores of a system share their columns: each different stack is looked at once for each line."""
    additions = (0, format.addition) if format.sleeve else (0,)
    lines = []
    for addition in additions:
        masks: dict[PinStack, int] = {}
        rows = [[_mask(format, stack, addition, masks) for stack in pinning.stacks] for pinning in cores]
        lines.append(np.array(rows, np.uint64).reshape(len(cores), format.positions))
    none: Boxes = np.zeros((0, format.positions), np.uint64)
    return (*lines, none)[0], (*lines, none)[1]


def _mask(format: CoreFormat, stack: PinStack, addition: int, kept: dict[PinStack, int]) -> int:
    if stack not in kept:
        cuts = cuts_clearing(format, stack, addition)
        kept[stack] = sum(1 << format.depth_values.index(cut) for cut in cuts)
    return kept[stack]
