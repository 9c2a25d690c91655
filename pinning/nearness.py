"""Near misses: keys that do not turn a core, and would if one cut were one depth other, or if they were worn.

A worn key has lost metal, so its cuts read deeper. A key is near a core at a line if all its cuts clear but
one, and that one is within reach of a break; or if it only fails where its cuts are too shallow, by no more
than that, in a few positions. Measured against the breaks of the pins themselves: a break that no cut of the
format was meant for counts as well.

For every position and depth a whole number holds one bit per key that has that cut, as in `audit`. Per core,
the keys that clear all positions but one come from the products from the front and from the back.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a4 = load("small-a4-6")
>>> cores = {"door": pin(a4, ["111111"], "333333")}
>>> keys = {text: parse_bitting(a4, text) for text in ("111111", "111110", "111131", "101110", "333332")}
>>> for miss in near_misses(cores, keys, worn=2):
...     print(miss.key, miss.line, miss.differences, miss.by_wear)
111110 operating ((6, 1),) True
101110 operating ((2, 1), (6, 1)) True
333332 control ((6, 1),) True
"""

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import reduce
from itertools import accumulate, pairwise
from operator import and_, or_
from typing import Generic, TypeVar

from pinning.bittings import Bitting
from pinning.columns import Pinning, PinStack
from pinning.errors import PinningError
from pinning.figures import CoreFormat

__all__ = [
    "CONTROL_LINE",
    "OPERATING_LINE",
    "NearKeys",
    "NearMiss",
    "lines_of",
    "near_misses",
    "one_depth",
]

OPERATING_LINE, CONTROL_LINE = "operating", "control"

KeyId = TypeVar("KeyId", bound=Hashable)
CoreId = TypeVar("CoreId", bound=Hashable)
Heights = frozenset[int] | None  # the cuts that would clear, whether there is such a depth or not; None: all
Differences = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class NearMiss(Generic[KeyId, CoreId]):
    """One key that all but clears one line of a core.

    `differences` are (position, increments that the cut would have to be deeper; below 0: shallower).
    """

    key: KeyId
    core: CoreId
    line: str
    differences: Differences

    @property
    def by_wear(self) -> bool:
        """Whether losing metal alone could bring the key there."""
        return all(deeper > 0 for _, deeper in self.differences)


def near_misses(
    cores: Mapping[CoreId, Pinning], keys: Mapping[KeyId, Bitting], *, reach: int | None = None, worn: int = 1
) -> Iterator[NearMiss[KeyId, CoreId]]:
    """Every near miss at both lines, core by core and then in the keys' order.

    `reach` is in increments (one depth of the core's format unless told), `worn` the most positions in which
    a key may be too shallow at once. All keys have as many cuts as the cores have positions, or
    `PinningError` is raised.
    """
    index = NearKeys(keys)
    for name, core in cores.items():
        for line in lines_of(core.format):
            for key, differences in index.near(core, line, reach, worn):
                yield NearMiss(key, name, line, differences)


def lines_of(format: CoreFormat) -> tuple[str, ...]:
    """The lines that keys on ordinary blanks can clear."""
    return (OPERATING_LINE, CONTROL_LINE) if format.sleeve else (OPERATING_LINE,)


def one_depth(format: CoreFormat) -> int:
    """The least difference of two depths, in increments."""
    return min((deeper - shallower for shallower, deeper in pairwise(format.depth_values)), default=1)


class NearKeys(Generic[KeyId]):
    """Keys arranged so that one core can be asked which of them all but turn it."""

    def __init__(self, keys: Mapping[KeyId, Bitting]) -> None:
        self.ids = list(keys)
        self.cuts = [key.cuts for key in keys.values()]
        self.positions = len(self.cuts[0]) if self.cuts else 0
        if any(len(cuts) != self.positions for cuts in self.cuts):
            raise PinningError("The keys have different numbers of cuts; compare one format at a time.")
        self._everyone = (1 << len(self.ids)) - 1
        self._rows = [_rows_of(column) for column in zip(*self.cuts, strict=True)]
        self._kept: list[dict[tuple[Heights, int, int], int]] = [{} for _ in range(self.positions)]

    def near(
        self, core: Pinning, line: str, reach: int | None = None, worn: int = 1
    ) -> Iterator[tuple[KeyId, Differences]]:
        """(key, differences) of the near misses at a line, in the keys' order."""
        if not self.ids:
            return
        if len(core.stacks) != self.positions:
            raise PinningError(
                f"The keys have {self.positions} cuts and a core {len(core.stacks)} positions."
            )
        reach = one_depth(core.format) if reach is None else reach
        heights = [_heights(core.format, stack, line) for stack in core.stacks]
        found = self._off_in_one(heights, reach) | (self._worn(heights, reach) if worn > 1 else 0)
        for place in _bits(found):
            differences = tuple(_differences(self.cuts[place], heights, reach))
            if len(differences) == 1 or len(differences) <= worn:
                yield self.ids[place], differences

    def _off_in_one(self, heights: list[Heights], reach: int) -> int:
        """The keys that clear every position but one, and are within reach there."""
        clear = [self._row(place, column, 0, 0) for place, column in enumerate(heights)]
        before = accumulate(clear[:-1], and_, initial=self._everyone)
        after = [*accumulate(clear[:0:-1], and_, initial=self._everyone)][::-1]
        near = (self._row(place, column, reach, reach) for place, column in enumerate(heights))
        parts = (
            front & back & within & ~own
            for front, back, within, own in zip(before, after, near, clear, strict=True)
        )
        return reduce(or_, parts, 0)

    def _worn(self, heights: list[Heights], reach: int) -> int:
        """The keys that would clear with some cuts deeper, and do not clear."""
        clear = (self._row(place, column, 0, 0) for place, column in enumerate(heights))
        worn = (self._row(place, column, 0, reach) for place, column in enumerate(heights))
        return reduce(and_, worn, self._everyone) & ~reduce(and_, clear, self._everyone)

    def _row(self, place: int, heights: Heights, shallower: int, deeper: int) -> int:
        """One bit per key that would clear there if it were up to so much shallower or deeper."""
        kept, wanted = self._kept[place], (heights, shallower, deeper)
        if wanted not in kept:
            rows = self._rows[place].items()
            kept[wanted] = (
                self._everyone
                if heights is None
                else sum(bits for cut, bits in rows if _fits(cut, heights, shallower, deeper))
            )
        return kept[wanted]


def _rows_of(column: Iterable[int]) -> dict[int, int]:
    """By cut, one bit per key that has it."""
    places: dict[int, list[int]] = {}
    for place, cut in enumerate(column):
        places.setdefault(cut, []).append(place)
    return {cut: _bits_at(found) for cut, found in places.items()}


def _bits_at(places: list[int]) -> int:
    packed = bytearray(places[-1] // 8 + 1)
    for place in places:
        packed[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(packed, "little")


def _bits(number: int) -> Iterator[int]:
    while number:
        lowest = number & -number
        yield lowest.bit_length() - 1
        number ^= lowest


def _heights(format: CoreFormat, stack: PinStack, line: str) -> Heights:
    if stack.is_empty:
        return None
    lift = format.lift(stack.position) if line == CONTROL_LINE else 0
    return frozenset(height - lift for height in stack.breaks)


def _fits(cut: int, heights: frozenset[int], shallower: int, deeper: int) -> bool:
    return any(cut - shallower <= height <= cut + deeper for height in heights)


def _differences(cuts: tuple[int, ...], heights: list[Heights], reach: int) -> Iterator[tuple[int, int]]:
    """By position that does not clear, the least difference that would; deeper rather than shallower.

    Where the key is worn in several positions, only deeper counts.
    """
    off = [
        (position, [height - cut for height in column])
        for position, (cut, column) in enumerate(zip(cuts, heights, strict=True), 1)
        if column is not None and cut not in column
    ]
    for position, apart in off:
        within = [each for each in apart if (0 if len(off) > 1 else -reach) < each <= reach or each == -reach]
        yield position, min(within, key=lambda each: (abs(each), -each))
