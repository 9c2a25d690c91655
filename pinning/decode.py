"""Reading measured pins back: which keys a core was pinned for.

>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> decoded = decode(pin(load("small-a2-6"), ["361492", "529674"], "743810"))
>>> decoded.operating[:2], decoded.control.text
(((3, 5), (2, 6)), '743810')
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate

from pinning.bittings import Bitting, bitting_of
from pinning.columns import Pinning, PinStack
from pinning.errors import Refusal, Refusals
from pinning.fields import sizes_text
from pinning.formats import CoreFormat
from pinning.wording import said

__all__ = ["Decoded", "control_cuts_of", "decode", "impossible", "meant_cuts"]


@dataclass(frozen=True, slots=True)
class Decoded:
    """What the pins were made for.

    `operating` and `control_cuts` hold depth numbers per position. Outside a sleeve the control key may
    carry any operating cut; `control` is then the control key that carries the shallowest ones. A position
    without pins takes every depth.
    """

    operating: tuple[tuple[int, ...], ...] = field(repr=False)
    control_cuts: tuple[tuple[int, ...], ...] = field(repr=False)
    control: Bitting | None


def decode(pinning: Pinning) -> Decoded:
    """The cuts behind the pins; raises `Refused` with each reason why nobody can have meant these pins.

    Codes: `depth` (an operating cut that does not exist), `control_cut`, `control_required` (no control pin
    under the sleeve), `control_not_used` (one outside it), `total`, `driver` (the top pin is not the one of
    the rule).
    """
    refusals = Refusals()
    for stack in pinning.stacks:
        refusals.extend(impossible(pinning.format, stack))
    refusals.stop()
    operating = tuple(meant_cuts(pinning.format, stack) for stack in pinning.stacks)
    if not pinning.format.sleeve:
        return Decoded(operating, (), None)
    control_cuts = tuple(
        control_cuts_of(pinning.format, stack, cuts)
        for stack, cuts in zip(pinning.stacks, operating, strict=True)
    )
    return Decoded(operating, control_cuts, bitting_of(pinning.format, [cuts[0] for cuts in control_cuts]))


def meant_cuts(format: CoreFormat, stack: PinStack) -> tuple[int, ...]:
    """The operating cuts that the bottom and master pins were made for; every depth without pins."""
    if stack.is_empty:
        return format.depth_values
    return tuple(sorted(set(accumulate((stack.bottom, *stack.masters)))))


def control_cuts_of(format: CoreFormat, stack: PinStack, operating: tuple[int, ...]) -> tuple[int, ...]:
    """The cuts that a control key may have there: one under the sleeve, any operating cut elsewhere."""
    if stack.position not in format.sleeve or stack.is_empty:
        return operating
    return (stack.bottom + sum(stack.masters) + (stack.control or 0) - format.addition,)


def impossible(format: CoreFormat, stack: PinStack) -> Iterator[Refusal]:
    """Each reason why nobody can have meant these pins; none for a position without pins."""
    if stack.is_empty:
        return
    depths = sizes_text(format.depth_values)
    for cut in meant_cuts(format, stack):
        if cut not in format.depth_values:
            yield Refusal(
                "depth",
                said(
                    "Position {position}: the pins make an operating cut of {cut}; depths are {depths}: "
                    "measure again.",
                    position=stack.position,
                    cut=cut,
                    depths=depths,
                ),
                stack.position,
            )
    yield from _impossible_control(format, stack, depths)
    yield from _wrong_top(format, stack)


def _impossible_control(format: CoreFormat, stack: PinStack, depths: str) -> Iterator[Refusal]:
    if stack.position not in format.sleeve:
        if stack.control is not None:
            message = said(
                "Position {position}: a control pin of {size} stands where no sleeve is; take it out.",
                position=stack.position,
                size=stack.control,
            )
            yield Refusal("control_not_used", message, stack.position)
    elif stack.control is None:
        message = said(
            "Position {position}: no control pin stands under the sleeve; measure again.",
            position=stack.position,
        )
        yield Refusal("control_required", message, stack.position)
    elif (cut := control_cuts_of(format, stack, ())[0]) not in format.depth_values:
        message = said(
            "Position {position}: the pins make a control cut of {cut}; depths are {depths}: measure again.",
            position=stack.position,
            cut=cut,
            depths=depths,
        )
        yield Refusal("control_cut", message, stack.position)


def _wrong_top(format: CoreFormat, stack: PinStack) -> Iterator[Refusal]:
    total = format.total.sleeve if stack.position in format.sleeve else format.total.plain
    if stack.position in format.sleeve or format.drivers is None:
        if stack.total != total:
            message = said(
                "Position {position}: the pins add up to {found} and should add up to {total}; "
                "measure again.",
                position=stack.position,
                found=stack.total,
                total=str(total),
            )
            yield Refusal("total", message, stack.position)
        return
    deepest = stack.bottom + sum(stack.masters)
    drivers = [row.pin for row in format.drivers if row.low <= deepest <= row.high]
    if drivers != [stack.top]:
        message = said(
            "Position {position}: driver {driver} stands on plug total {deepest}; "
            "the table gives {drivers}: measure again.",
            position=stack.position,
            driver=stack.top,
            deepest=deepest,
            drivers=sizes_text(tuple(drivers)),
        )
        yield Refusal("driver", message, stack.position)
