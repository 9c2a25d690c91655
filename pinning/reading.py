"""Reading a core from the pins taken out of it, counted in kit sizes or measured with a micrometer.

Whatever was read is taken as it is; where nobody can have meant it, or where a length lies between two
sizes, a doubt says so and names the sound stacks that come nearest.

>>> from pinning.formats import load
>>> a2 = load("small-a2-5")
>>> good = [0.1475, 0.025, 0.15, 0.075]
>>> reading = read_stacks(a2, measured_in=[good, good, good, good, [0.1725, 0.025, 0.175, 0.025]])
>>> reading.operating[0], reading.control, reading.doubts
((3, 5), None, (Doubt(position=5, what='control_cut'),))
>>> print(reading.doubts[0].alternatives[0])
bottom 5, master 2, control 12, top 4
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from pinning.bittings import Bitting, bitting_of
from pinning.columns import PIN_OF, Pinning, PinStack, empty_stack, parse_stacks
from pinning.decode import control_cuts_of, impossible, meant_cuts
from pinning.doubts import Doubt
from pinning.errors import Refusal, Refusals, Refused
from pinning.fields import sizes_text
from pinning.figures import LARGEST_SIZE
from pinning.formats import CoreFormat
from pinning.likely import Measured, likely_stacks
from pinning.measuring import DEFAULT_TOLERANCE_IN, parse_columns, parse_tolerance
from pinning.wording import Inches, Said, said

__all__ = ["Reading", "read_stacks"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What the pins say. `operating` and `control_cuts` hold depth numbers per position, only real depths.

    `control` is None without a sleeve or where a control cut cannot be told; outside the sleeve it carries
    the shallowest operating cut, and `open_control` names the positions where it might carry another.
    """

    pinning: Pinning = field(repr=False)
    operating: tuple[tuple[int, ...], ...] = field(repr=False)
    control_cuts: tuple[tuple[int, ...], ...] = field(repr=False)
    control: Bitting | None
    doubts: tuple[Doubt, ...]

    @property
    def stacks(self) -> tuple[PinStack, ...]:
        return self.pinning.stacks

    @property
    def accepts(self) -> int:
        """How many bittings turn the plug, from the pins as they were read."""
        return self.pinning.accepts

    @property
    def open_control(self) -> tuple[Doubt, ...]:
        """One doubt (`control_open`) per position in which the control key may carry several cuts."""
        return tuple(_open_control(self.pinning, self.control_cuts))


def read_stacks(
    format: CoreFormat,
    stacks: object = None,
    measured_in: object = None,
    tolerance_in: object = DEFAULT_TOLERANCE_IN,
) -> Reading:
    """The cuts behind these pins, from `stacks` (as `parse_stacks` takes them, or a `Pinning`) or from
    `measured_in`: per position the pins' lengths in inches from the key upwards, an empty list where no pin
    is. A length counts as a size if it lies within the tolerance of that size and of no other.

    Doubts: `between_sizes`, `not_in_kit`, `parity`, and what `decode` refuses: `depth`, `control_cut`,
    `control_required`, `control_not_used`, `total`, `driver`. Raises `Refused` if the input is not in shape,
    or both or none of the two are given.
    """
    if (stacks is None) == (measured_in is None):
        message = said("Give either stacks or measured_in; one of the two is needed.")
        raise Refused([Refusal("missing", message)])
    if measured_in is not None:
        refusals = Refusals()
        lengths = parse_columns(format, measured_in, refusals)
        tolerance = parse_tolerance(tolerance_in, refusals)
        refusals.stop()
        return _measured(format, lengths, tolerance)
    pinning = stacks if isinstance(stacks, Pinning) else parse_stacks(format, stacks)
    columns = [list[Measured](stack.pins) for stack in pinning.stacks]
    return _reading(pinning, [[] for _ in columns], columns)


Spread = list[tuple[str, Said]]  # what is doubtful and how to say it


def _measured(format: CoreFormat, lengths: tuple[tuple[float, ...], ...], tolerance: float) -> Reading:
    columns = [_in_increments(format, position, row) for position, row in enumerate(lengths, 1)]
    stacks = tuple(_rounded(position, column) for position, column in enumerate(columns, 1))
    limit = tolerance / format.increment_in + 1e-9
    spreads = [
        [("between_sizes", _between(format, role, size)) for role, size in column if _is_between(size, limit)]
        for column in columns
    ]
    return _reading(Pinning(format, stacks), spreads, columns)


def _in_increments(format: CoreFormat, position: int, lengths: Sequence[float]) -> list[Measured]:
    if not lengths:
        return []
    upper = ["control", "top"] if position in format.sleeve and len(lengths) > 2 else ["top"]
    roles = ["bottom", *["master"] * (len(lengths) - 1 - len(upper)), *upper]
    lowest = format.depth_values[0]
    sizes = [lowest + (lengths[0] - format.base_pin_in) / format.increment_in]
    sizes += [length / format.increment_in for length in lengths[1:]]
    return list(zip(roles, sizes, strict=True))


def _rounded(position: int, column: Sequence[Measured]) -> PinStack:
    if not column:
        return empty_stack(position)
    sizes = [(role, min(max(round(size), 0), LARGEST_SIZE)) for role, size in column]
    masters = tuple(size for role, size in sizes if role == "master")
    by_role = dict(sizes)
    return PinStack(position, by_role["bottom"], masters, by_role.get("control"), by_role["top"])


def _is_between(size: float, limit: float) -> bool:
    """True unless exactly one whole size lies within the limit."""
    off = abs(size - round(size))
    return size < -limit or off > limit or 1 - off <= limit


def _between(format: CoreFormat, role: str, size: float) -> Said:
    lower = max(int(size), 0)
    offset = format.length_in(0) if role == "bottom" else 0.0
    return said(
        "the {pin} of {length} lies between {lower} ({shorter}) and {upper} ({longer}); measure it again.",
        pin=PIN_OF[role],
        length=Inches(offset + size * format.increment_in),
        lower=lower,
        shorter=Inches(offset + lower * format.increment_in),
        upper=lower + 1,
        longer=Inches(offset + (lower + 1) * format.increment_in),
    )


def _reading(pinning: Pinning, spreads: list[Spread], columns: list[list[Measured]]) -> Reading:
    format, depths = pinning.format, pinning.format.depth_values
    meant = [meant_cuts(format, stack) for stack in pinning.stacks]
    operating = tuple(tuple(cut for cut in cuts if cut in depths) for cuts in meant)
    doubts: list[Doubt] = []
    for stack, spread, column in zip(pinning.stacks, spreads, columns, strict=True):
        doubts += _doubts(format, stack, spread, column)
    control_cuts = tuple(
        tuple(cut for cut in control_cuts_of(format, stack, cuts) if cut in depths)
        for stack, cuts in zip(pinning.stacks, operating, strict=True)
    )
    if not format.sleeve:
        return Reading(pinning, operating, (), None, tuple(doubts))
    control = bitting_of(format, [cuts[0] for cuts in control_cuts]) if all(control_cuts) else None
    return Reading(pinning, operating, control_cuts, control, tuple(doubts))


def _doubts(
    format: CoreFormat, stack: PinStack, spread: Spread, column: Sequence[Measured]
) -> Iterator[Doubt]:
    """The doubts of one position; the likely stacks are looked for only if there are any."""
    found = [(what, _at(stack, reason)) for what, reason in spread]
    found += [("not_in_kit", _at(stack, reason)) for reason in _not_in_kit(format, stack)]
    found += [(refusal.code, refusal.message) for refusal in impossible(format, stack)]
    found += [("parity", _at(stack, reason)) for reason in _mixed(format, stack)]
    likely = likely_stacks(format, stack.position, column) if found else ()
    for what, message in found:
        yield Doubt(stack.position, what, message, likely)


def _at(stack: PinStack, reason: Said) -> str:
    return said("Position {position}: {reason}", position=stack.position, reason=reason)


def _not_in_kit(format: CoreFormat, stack: PinStack) -> Iterator[Said]:
    for role, size in stack.pins:
        kit = format.pins.sizes(role)
        if size not in kit and (role != "control" or stack.position in format.sleeve):
            yield said(
                "a {pin} of {size} is in no kit, which has {sizes}; measure it again.",
                pin=PIN_OF[role],
                size=size,
                sizes=sizes_text(kit),
            )


def _mixed(format: CoreFormat, stack: PinStack) -> Iterator[Said]:
    if not stack.is_empty and any(size % format.step for size in stack.masters):
        yield said(
            "the operating cuts are not a multiple of {step} apart; measure the master pins again.",
            step=format.step,
        )


def _open_control(pinning: Pinning, control_cuts: tuple[tuple[int, ...], ...]) -> Iterator[Doubt]:
    format = pinning.format
    for stack, cuts in zip(pinning.stacks, control_cuts, strict=False):
        if len(cuts) > 1 and not stack.is_empty:
            message = said(
                "Position {position}: it lies outside the sleeve, so the control key carries one of "
                "the operating cuts {cuts}; read a second core of the system.",
                position=stack.position,
                cuts=sizes_text(cuts),
            )
            symbols = tuple(format.symbol_of(cut) for cut in cuts)
            yield Doubt(stack.position, "control_open", message, symbols)
