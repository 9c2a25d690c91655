"""The sound stacks that a doubtful one may really be: close to what was read, and buildable from the kit.

>>> from pinning.formats import load
>>> a2 = load("small-a2-5")
>>> for stack in likely_stacks(a2, 1, [("bottom", 5), ("master", 2), ("control", 14), ("top", 3)])[:2]:
...     print(stack)
bottom 5, master 2, control 12, top 4
bottom 3, master 2, control 14, top 4
"""

from collections.abc import Iterator, Sequence
from heapq import nsmallest
from typing import NamedTuple

from pinning.columns import PinStack
from pinning.formats import CoreFormat

__all__ = ["Measured", "likely_stacks"]

Measured = tuple[str, float]  # role, and length in increments as it was measured
MOST = 6
MOST_MASTERS = 6  # more are in no core that anyone can have meant, and would take long to try
# A stack is likely if its pins are together at most so many increments off, or only one pin is off at all.
NEAR = 4.001
WHOLE = 0.999  # increments, short of one by less than any micrometer tells


class _Gap(NamedTuple):
    """How far chosen pins are from those that were read: pins a whole increment off, and the sum."""

    misread: int = 0
    distance: float = 0.0

    def and_pin(self, size: int, read: float) -> "_Gap":
        gap = abs(size - read)
        return _Gap(self.misread + (gap > WHOLE), self.distance + gap)

    @property
    def is_near(self) -> bool:
        return self.misread <= 1 or self.distance <= NEAR


_Found = tuple[_Gap, PinStack]


def likely_stacks(format: CoreFormat, position: int, measured: Sequence[Measured]) -> tuple[PinStack, ...]:
    """At most six sound stacks with as many masters as were read, those with the fewest misread pins first.

    A pin counts as misread from a whole increment on. None are looked for in a stack of more than six
    masters.
    """
    plug = [size for role, size in measured if role in ("bottom", "master")]
    if len(plug) > MOST_MASTERS + 1:
        return ()
    found = (
        stack
        for pins, gap in _plugs(format, plug, (), _Gap())
        for stack in _stacks(format, position, measured, pins, gap)
    )
    return tuple(stack for _, stack in nsmallest(MOST, found, key=_rank))


def _rank(found: _Found) -> tuple[int, float, tuple[int, ...]]:
    gap, stack = found
    return gap.misread, round(gap.distance, 6), tuple(-size for _, size in stack.pins)


def _plugs(
    format: CoreFormat, read: Sequence[float], chosen: tuple[int, ...], gap: _Gap
) -> Iterator[tuple[tuple[int, ...], _Gap]]:
    """Bottom and masters that end at depths of one series, in the kit, and not too far from what was read."""
    if len(chosen) == len(read):
        yield chosen, gap
        return
    for size in format.pins.sizes("master" if chosen else "bottom"):
        wider = gap.and_pin(size, read[len(chosen)])
        if wider.is_near and _ends_well(format, (*chosen, size)):
            yield from _plugs(format, read, (*chosen, size), wider)


def _ends_well(format: CoreFormat, pins: tuple[int, ...]) -> bool:
    end = sum(pins)
    return end in format.depth_values and (end - pins[0]) % format.step == 0 and 0 not in pins[1:]


def _stacks(
    format: CoreFormat, position: int, measured: Sequence[Measured], pins: tuple[int, ...], gap: _Gap
) -> Iterator[_Found]:
    """The stacks on that plug; a control pin that was read too much or too little is misread."""
    read = next((size for role, size in measured if role == "control"), None)
    for control, top in _uppers(format, position, sum(pins)):
        whole = gap.and_pin(top, measured[-1][1])
        if control is not None and read is not None:
            whole = whole.and_pin(control, read)
        elif (control is None) != (read is None):
            whole = whole._replace(misread=whole.misread + 1)
        if whole.is_near:
            yield whole, PinStack(position, pins[0], pins[1:], control, top)


def _uppers(format: CoreFormat, position: int, deepest: int) -> Iterator[tuple[int | None, int]]:
    """(control, top) that may stand on that deepest cut."""
    kit = format.pins
    if position not in format.sleeve:
        top = format.plain_top(deepest)
        if top is not None and top in kit.top:
            yield None, top
        return
    for cut in format.depth_values:
        control, top = cut + format.addition - deepest, (format.total.sleeve or 0) - format.addition - cut
        if control in kit.control and top in kit.top:
            yield control, top
