"""Whether a key turns a core, from the physics alone.

A key with cut d lets the column of pins drop so that a height of d above its foot lies at the operating
line, and a height of d + K at the control line (K: the sleeve's thickness in increments). A position is
clear at a line if a break between two pins lies there. The plug turns if every position is clear at the
operating line. The sleeve turns with the plug, and the core comes out, if the positions under the sleeve
are clear at the control line and the others at the operating line. Nothing here knows what the pins were
meant for.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> core = pin(a2, ["361492", "529674"], "743810")
>>> turn(core, parse_bitting(a2, "329472"))
Turning(operates=True, withdraws=False, binds=())
>>> turn(core, parse_bitting(a2, "361493"))
Turning(operates=False, withdraws=False, binds=(6,))
"""

from dataclasses import dataclass

from pinning.bittings import Bitting
from pinning.errors import Refusals
from pinning.stacks import Pinning

__all__ = ["Turning", "operating_cuts", "turn", "withdrawing_cuts"]


@dataclass(frozen=True, slots=True)
class Turning:
    """What a key does to a core; `binds` holds the positions that stop the line nearest to turning."""

    operates: bool
    withdraws: bool
    binds: tuple[int, ...]


def turn(pinning: Pinning, bitting: Bitting) -> Turning:
    """What the key does; raises `Refused` (code `length`) if it has another number of cuts than the core."""
    _refuse_length(pinning, bitting)
    at_operating = _binding(pinning, bitting, 0)
    if not pinning.format.sleeve:
        return Turning(not at_operating, False, at_operating)
    at_control = _binding(pinning, bitting, pinning.format.addition)
    binds = min(at_operating, at_control, key=len)
    return Turning(not at_operating, not at_control, binds)


def operating_cuts(pinning: Pinning) -> tuple[tuple[int, ...], ...]:
    """Per position, the depths that clear the operating line: the box of bittings that turn the plug."""
    return _clearing(pinning, 0)


def withdrawing_cuts(pinning: Pinning) -> tuple[tuple[int, ...], ...]:
    """Per position, the depths that let the sleeve turn; all empty where there is no sleeve."""
    if not pinning.format.sleeve:
        return ((),) * len(pinning.stacks)
    return _clearing(pinning, pinning.format.addition)


def _binding(pinning: Pinning, bitting: Bitting, addition: int) -> tuple[int, ...]:
    sleeve = pinning.format.sleeve
    return tuple(
        stack.position
        for stack, cut in zip(pinning.stacks, bitting.cuts, strict=True)
        if cut + (addition if stack.position in sleeve else 0) not in stack.breaks
    )


def _clearing(pinning: Pinning, addition: int) -> tuple[tuple[int, ...], ...]:
    columns = []
    for stack in pinning.stacks:
        lift = addition if stack.position in pinning.format.sleeve else 0
        heights = set(stack.breaks)
        columns.append(tuple(cut for cut in pinning.format.depth_values if cut + lift in heights))
    return tuple(columns)


def _refuse_length(pinning: Pinning, bitting: Bitting) -> None:
    refusals = Refusals()
    if len(bitting.cuts) != len(pinning.stacks):
        refusals.add(
            "length",
            f"The key has {len(bitting.cuts)} cuts and the core {len(pinning.stacks)} positions; "
            "try a key made for this core.",
        )
    refusals.stop()
