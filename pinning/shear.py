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
Turning(operates=True, withdraws=False, binds=(), steps=())
>>> turn(core, parse_bitting(a2, "361493"))
Turning(operates=False, withdraws=False, binds=(6,), steps=())
"""

from dataclasses import dataclass

from pinning.bittings import Bitting
from pinning.columns import Pinning, PinStack
from pinning.errors import Refusals
from pinning.figures import CoreFormat
from pinning.wording import said

__all__ = ["Turning", "cuts_clearing", "operating_cuts", "refuse_key", "turn", "withdrawing_cuts"]


BLANKS = ("operating", "control")
STEPS = (
    said("Turn the operating key and open the shackle."),
    said("With the shackle open, undo the screw that holds the core."),
    said("Draw the core out and keep the screw for the next one."),
)


@dataclass(frozen=True, slots=True)
class Turning:
    """What a key does to a core; `binds` holds the positions that stop the line nearest to turning.

    `steps` is for cores held by a screw: how to take the core out with a key that operates.
    """

    operates: bool
    withdraws: bool
    binds: tuple[int, ...]
    steps: tuple[str, ...] = ()


def turn(pinning: Pinning, bitting: Bitting, blank: str = "operating") -> Turning:
    """What the key does; `blank` is "control" for a key cut on the longer blank of a tip-operated core.

    Such a key turns the plug and takes the core along. Raises `Refused`: `length` if it has another number
    of cuts than the core, `blank_not_used` if the core's construction has no control blank.
    """
    refuse_key(pinning, bitting, blank)
    at_operating = _binding(pinning, bitting, 0)
    operates = not at_operating
    if not pinning.format.sleeve:
        steps = STEPS if operates and pinning.format.control_kind == "screw" else ()
        return Turning(operates, operates and blank == "control", at_operating, steps)
    at_control = _binding(pinning, bitting, pinning.format.addition)
    return Turning(operates, not at_control, min(at_operating, at_control, key=len))


def operating_cuts(pinning: Pinning) -> tuple[tuple[int, ...], ...]:
    """Per position, the depths that clear the operating line: the box of bittings that turn the plug."""
    return _clearing(pinning, 0)


def withdrawing_cuts(pinning: Pinning, blank: str = "operating") -> tuple[tuple[int, ...], ...]:
    """Per position, the depths of the keys on that blank that take the core out; all empty if none can."""
    if pinning.format.control_kind == "tip" and blank == "control":
        return operating_cuts(pinning)
    if not pinning.format.sleeve:
        return ((),) * len(pinning.stacks)
    return _clearing(pinning, pinning.format.addition)


def _binding(pinning: Pinning, bitting: Bitting, addition: int) -> tuple[int, ...]:
    sleeve = pinning.format.sleeve
    return tuple(
        stack.position
        for stack, cut in zip(pinning.stacks, bitting.cuts, strict=True)
        if not stack.clears(cut + (addition if stack.position in sleeve else 0))
    )


def _clearing(pinning: Pinning, addition: int) -> tuple[tuple[int, ...], ...]:
    return tuple(cuts_clearing(pinning.format, stack, addition) for stack in pinning.stacks)


def cuts_clearing(format: CoreFormat, stack: PinStack, addition: int) -> tuple[int, ...]:
    """The depths that clear one position at the line `addition` above the operating line, under a sleeve."""
    lift = addition if stack.position in format.sleeve else 0
    heights = {cut + lift for cut in format.depth_values}
    cleared = heights if stack.is_empty else heights.intersection(stack.breaks)
    return tuple(sorted(height - lift for height in cleared))


def refuse_key(pinning: Pinning, bitting: Bitting, blank: str) -> None:
    refusals = Refusals()
    if len(bitting.cuts) != len(pinning.stacks):
        refusals.add(
            "length",
            said(
                "The key has {cuts} cuts and the core {positions} positions; try a key made for this core.",
                cuts=len(bitting.cuts),
                positions=len(pinning.stacks),
            ),
        )
    if blank not in BLANKS:
        message = said("{blank} is no blank; use one of {blanks}.", blank=repr(blank[:40]), blanks=BLANKS)
        refusals.add("value", message)
    elif blank == "control" and pinning.format.control_kind != "tip":
        refusals.add(
            "blank_not_used",
            said("Only cores with a tip-operated control pin have a control blank; leave the blank out."),
        )
    refusals.stop()
