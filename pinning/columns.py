"""Columns of pins: the value types of a pinned core, and reading them from JSON.

A stack without any pin is a position left empty, as shops do to make a six-position core of a five-cut
system: nothing can cross a line there, so every cut clears it.

>>> stack = PinStack(position=1, bottom=3, masters=(2,), control=12, top=6)
>>> stack.pins
(('bottom', 3), ('master', 2), ('control', 12), ('top', 6))
>>> stack.clears(5), stack.clears(6), empty_stack(2).clears(6)
(True, False, True)
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from math import prod

from pinning.errors import Refusals
from pinning.fields import Fields
from pinning.figures import LARGEST_SIZE, CoreFormat
from pinning.wording import said

__all__ = ["PIN_OF", "Pin", "PinStack", "Pinning", "control_label", "empty_stack", "parse_stacks"]

STACK_FIELDS = ("position", "bottom", "masters", "control", "top", "total")
PIN_FIELDS = ("bottom", "control", "top")
# As a sentence names one.
PIN_OF = {
    "bottom": said("bottom pin"),
    "master": said("master pin"),
    "control": said("control pin"),
    "top": said("top pin"),
}
Pin = tuple[str, int]


@dataclass(frozen=True, slots=True)
class PinStack:
    """One position's pins from the key upwards, in increments; `control` is None without a control pin."""

    position: int
    bottom: int
    masters: tuple[int, ...]
    control: int | None
    top: int

    def __str__(self) -> str:
        return ", ".join(f"{role} {size}" for role, size in self.pins) or "no pins"

    @property
    def is_empty(self) -> bool:
        """True if no pin stands here: no top pin, and nothing to tell it from no bottom pin either."""
        return self.top == 0 and self.bottom == 0 and not self.masters and self.control is None

    @property
    def pins(self) -> tuple[Pin, ...]:
        """(role, size) from the key upwards."""
        if self.is_empty:
            return ()
        masters = tuple(("master", size) for size in self.masters)
        control = () if self.control is None else (("control", self.control),)
        return (("bottom", self.bottom), *masters, *control, ("top", self.top))

    @property
    def total(self) -> int:
        return self.bottom + sum(self.masters) + (self.control or 0) + self.top

    @property
    def breaks(self) -> tuple[int, ...]:
        """The heights at which one pin ends and the next begins, measured from the key's cut."""
        if self.is_empty:
            return ()
        control = () if self.control is None else (self.control,)
        return tuple(accumulate((self.bottom, *self.masters, *control)))

    def clears(self, height: int) -> bool:
        """Whether no pin crosses a line that lies `height` above the key's cut."""
        return height in self.breaks or self.is_empty


def empty_stack(position: int) -> PinStack:
    """A position without pins."""
    return PinStack(position, 0, (), None, 0)


@dataclass(frozen=True, slots=True)
class Pinning:
    """A pinned core: its format and one stack per position, in order."""

    format: CoreFormat
    stacks: tuple[PinStack, ...]

    @property
    def accepts(self) -> int:
        """How many bittings turn the plug, planned or not: the product of the depths that clear each."""
        return prod(sum(map(stack.clears, self.format.depth_values)) for stack in self.stacks)


def parse_stacks(format: CoreFormat, stacks: object) -> Pinning:
    """The core whose pins a list of objects names; raises `Refused` with every wrong entry.

    Only shape is checked, not the kit: any column of pins can be put into a core and tried. A position
    without pins has null for its bottom and top pins, or 0 for both, and no masters.
    """
    refusals = Refusals()
    fields = Fields({"stacks": stacks}, said("input"), refusals, ("stacks",))
    parsed = [_parse_stack(format, item, place, refusals) for place, item in _numbered(fields)]
    _refuse_positions(format, [stack.position for stack in parsed], fields)
    refusals.stop()
    return Pinning(format, tuple(sorted(parsed, key=lambda stack: stack.position)))


def _numbered(fields: Fields) -> Iterator[tuple[int, object]]:
    return enumerate(fields.items("stacks", 100), 1)


def _parse_stack(format: CoreFormat, item: object, place: int, refusals: Refusals) -> PinStack:
    fields = Fields(item, said("stack {number}", number=place), refusals, STACK_FIELDS)
    if fields.has("masters") and fields.items("masters", 100) == [] and not any(map(fields.has, PIN_FIELDS)):
        stack = empty_stack(fields.integer("position", 1, format.positions))
    else:
        stack = _parse_pins(format, fields)
    total = fields.integer_or_none("total", 0, 1_000_000)
    if total is not None and fields.read(*STACK_FIELDS) and total != stack.total:
        reason = said(
            "the pins add up to {found}, not {total}; measure them again.", found=stack.total, total=total
        )
        fields.refuse("total", "total", reason, stack.position)
    return stack


def _parse_pins(format: CoreFormat, fields: Fields) -> PinStack:
    return PinStack(
        fields.integer("position", 1, format.positions),
        fields.integer("bottom", 0, LARGEST_SIZE),
        fields.integers("masters", 0, LARGEST_SIZE, 100),
        fields.integer_or_none("control", 0, LARGEST_SIZE),
        fields.integer("top", 0, LARGEST_SIZE),
    )


def _refuse_positions(format: CoreFormat, found: list[int], fields: Fields) -> None:
    if fields.read("stacks") and sorted(found) != list(range(1, format.positions + 1)):
        reason = said("give each position from 1 to {positions} once.", positions=format.positions)
        fields.refuse("stacks", "positions", reason)


def control_label(format: CoreFormat, size: int) -> str:
    """A control pin as the shop writes it: its size, or how far it stands above or below the sleeve.

    >>> from dataclasses import replace
    >>> from pinning.formats import load
    >>> a4 = load("small-a4-6")
    >>> control_label(a4, 8)
    '8'
    >>> control_label(replace(a4, control=replace(a4.control, numbering="relative")), 8)
    '+2'
    """
    if format.control is None or format.control.numbering == "absolute":
        return str(size)
    return f"{size - format.addition:+d}"
