"""A union of boxes counted in a table: one bit for each combination of cuts, legal or not.

A whole number is the table, and a box is put into it position by position from the last: the bits of what
follows, shifted to the place of each cut. The table is kept in parts by first cut.

>>> count_painted([((1, 2), (1, 2)), ((2, 3), (2, 3))], None, [1, 2, 3])
7
>>> count_painted([((1, 2), (1, 2)), ((2, 3), (2, 3))], 0, [1, 2, 3])
3
"""

from collections.abc import Iterable, Sequence

__all__ = ["count_painted"]

Box = Sequence[Sequence[int]]


def count_painted(boxes: Iterable[Box], macs: int | None, values: Sequence[int]) -> int:
    """Bittings of `values` in any box with adjacent cuts at most `macs` apart.

    Takes len(values) ** positions bits, and time for each box in proportion to them.
    """
    painted: dict[int, int] = dict.fromkeys(values, 0)
    width = 0
    for first, *rest in boxes:
        width = len(rest)
        bits = _bits(rest, values)
        for cut in first:
            painted[cut] |= bits
    legal = _legal(width, macs, values)
    return sum((bits & legal[cut]).bit_count() for cut, bits in painted.items())


def _bits(box: Box, values: Sequence[int]) -> int:
    """A box as bits: the first cut counts most."""
    bits, size = 1, 1
    for column in reversed(box):
        bits = _side_by_side(dict.fromkeys(column, bits), values, size)
        size *= len(values)
    return bits


def _legal(width: int, macs: int | None, values: Sequence[int]) -> dict[int, int]:
    """By cut, the bits of what may follow it in the next `width` positions."""
    legal, size = dict.fromkeys(values, 1), 1
    for _ in range(width):
        legal = {
            cut: _side_by_side(
                {after: bits for after, bits in legal.items() if macs is None or abs(after - cut) <= macs},
                values,
                size,
            )
            for cut in values
        }
        size *= len(values)
    return legal


def _side_by_side(parts: dict[int, int], values: Sequence[int], size: int) -> int:
    """Tables of `size` bits, each at the place of its cut; no bits for a cut without a part."""
    joined = 0
    for place, value in enumerate(values):
        if value in parts:
            joined |= parts[value] << place * size
    return joined
