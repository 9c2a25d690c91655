"""A core with a key pushed in: where each pin stands, and what stands across a line.

Heights are increments above the operating line; below it they are negative. The column of a chamber stands
on the key's cut, so a key whose cut is one deeper lets all of its breaks down by one. At a line a chamber is
free if a break lies there, and else one pin stands across it. `turn` says the same of the whole core in a
word; here is why.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> core = pin(a2, ["361492", "529674"], "743810")
>>> first = lift(core, parse_bitting(a2, "461492"))[0]
>>> first.breaks
(-1, 1, 13)
>>> first.at_operating
Across(role='master', size=2, above=1, below=1)
>>> lift(core, parse_bitting(a2, "743810"))[0].at_withdrawing is None
True
"""

from dataclasses import dataclass, field
from itertools import accumulate, pairwise

from pinning.bittings import Bitting
from pinning.columns import Pinning, PinStack
from pinning.figures import CoreFormat
from pinning.shear import refuse_key

__all__ = ["Across", "LiftedChamber", "StandingPin", "lift"]


@dataclass(frozen=True, slots=True)
class StandingPin:
    """One pin from `foot` to `head`. A bottom pin reaches further down, by the length of the lowest one.

    Where a table names the drivers, a top pin's size is a kit number and its head says nothing.
    """

    role: str
    size: int
    foot: int
    head: int


@dataclass(frozen=True, slots=True)
class Across:
    """The pin across a line, and by how much it stands out on either side; the `spring`, where no pin is.

    A bottom pin stands deep in the plug and a top pin far in the shell, so what tells is the other side.
    """

    role: str  # bottom, master, control, top, spring
    size: int
    above: int
    below: int


@dataclass(frozen=True, slots=True)
class LiftedChamber:
    """One chamber. `line` is the height of the line at which a withdrawing key must be free there: 0 outside
    a sleeve. None in `at_operating` or `at_withdrawing`: free there.
    """

    position: int
    cut: int = field(repr=False)
    pins: tuple[StandingPin, ...] = field(repr=False)
    line: int
    at_operating: Across | None = field(repr=False)
    at_withdrawing: Across | None = field(repr=False)

    @property
    def breaks(self) -> tuple[int, ...]:
        """Where one pin ends and the next begins, from the key upwards."""
        return tuple(pin.head for pin in self.pins[:-1])


def lift(pinning: Pinning, bitting: Bitting, blank: str = "operating") -> tuple[LiftedChamber, ...]:
    """Chamber by chamber, what the key does to the pins; refuses what `turn` refuses."""
    refuse_key(pinning, bitting, blank)
    return tuple(
        _lifted(pinning.format, stack, cut) for stack, cut in zip(pinning.stacks, bitting.cuts, strict=True)
    )


def _lifted(format: CoreFormat, stack: PinStack, cut: int) -> LiftedChamber:
    pins, line = _standing(stack, cut), format.lift(stack.position)
    has_lengths = format.drivers is None or stack.position in format.sleeve
    at_operating, at_withdrawing = (_across(pins, height, has_lengths) for height in (0, line))
    return LiftedChamber(stack.position, cut, pins, line, at_operating, at_withdrawing)


def _standing(stack: PinStack, cut: int) -> tuple[StandingPin, ...]:
    edges = accumulate((size for _, size in stack.pins), initial=-cut)
    return tuple(
        StandingPin(role, size, foot, head)
        for (role, size), (foot, head) in zip(stack.pins, pairwise(edges), strict=True)
    )


def _across(pins: tuple[StandingPin, ...], line: int, has_lengths: bool) -> Across | None:
    """The first pin whose head is above the line; none if a break lies at it."""
    if not pins or line in {pin.head for pin in pins[:-1]}:
        return None
    top = pins[-1]
    crossing = next((pin for pin in pins[:-1] if pin.head > line), top)
    if crossing is top and not has_lengths:
        return Across(top.role, top.size, 0, line - top.foot)
    if crossing.head <= line:
        return Across("spring", 0, 0, line - top.head)
    return Across(crossing.role, crossing.size, crossing.head - line, line - crossing.foot)
