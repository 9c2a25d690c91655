"""Pin stacks: what goes into each position of a core so that the given keys turn it.

A column of pins stands on the key. The key's cut sets how far the column drops; the plug turns where a
break between two pins lies at the operating line, and a sleeve turns where a break lies at the control
line, higher by the sleeve's thickness. So a stack is a list of breaks: the bottom pin ends at the
shallowest operating cut, each master pin ends at the next cut, and the control pin ends at the control cut
plus the sleeve's addition.

>>> from pinning.formats import load
>>> pinning = pin(load("small-a2-6"), ["361492", "529674"], "743810")
>>> pinning.stacks[0]
PinStack(position=1, bottom=3, masters=(2,), control=12, top=6)
>>> pinning.stacks[0].total, pinning.stacks[0].breaks, pinning.accepts
(23, (3, 5, 17), 64)
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import prod

from pinning.bittings import Bitting, refusals_of
from pinning.errors import Refusals
from pinning.fields import Fields, sizes_text
from pinning.formats import LARGEST_SIZE, CoreFormat

__all__ = ["PinStack", "Pinning", "control_label", "parse_stacks", "pin"]

STACK_FIELDS = ("position", "bottom", "masters", "control", "top", "total")
REMEDIES = {
    "bottom": "choose a shallowest cut whose bottom pin exists",
    "master": "choose cuts that differ by a size in the kit",
    "control": "change the control cut or the deepest operating cut",
    "top": "change the cut it stands on",
}


@dataclass(frozen=True, slots=True)
class PinStack:
    """One position's pins from the key upwards, in increments; `control` is None without a control pin."""

    position: int
    bottom: int
    masters: tuple[int, ...]
    control: int | None
    top: int

    @property
    def total(self) -> int:
        return self.bottom + sum(self.masters) + (self.control or 0) + self.top

    @property
    def breaks(self) -> tuple[int, ...]:
        """The heights at which one pin ends and the next begins, measured from the key's cut."""
        control = () if self.control is None else (self.control,)
        return tuple(accumulate((self.bottom, *self.masters, *control)))


@dataclass(frozen=True, slots=True)
class Pinning:
    """A pinned core: its format and one stack per position, in order."""

    format: CoreFormat
    stacks: tuple[PinStack, ...]

    @property
    def accepts(self) -> int:
        """How many bittings turn the plug, planned or not: the product of the depths that clear each."""
        depths = set(self.format.depth_values)
        return prod(len(depths.intersection(stack.breaks)) for stack in self.stacks)


def pin(format: CoreFormat, operating: Sequence[str | Bitting], control: str | Bitting | None) -> Pinning:
    """The pins that let every operating key turn the plug and the control key, if any, turn the sleeve.

    Raises `Refused` with every reason over all keys and positions: `no_keys`, `length`, `depth`, `macs`,
    `parity`, `control_required`, `control_not_used`, `control_cut`, `unbuildable`.
    """
    refusals = Refusals()
    names = [f"operating key {number}" for number in range(1, len(operating) + 1)]
    keys = [_read(format, key, name, refusals) for key, name in zip(operating, names, strict=True)]
    control_cuts = _read_control(format, control, refusals)
    if not operating:
        refusals.add("no_keys", "No operating key is given; give at least one.")
    _refuse_parity(format, keys, refusals)
    stacks = []
    for position in range(1, format.positions + 1):
        column = [cuts[position - 1] for cuts in keys]
        plan = _plan(format, position, column, control_cuts[position - 1], refusals)
        _refuse_unbuildable(format, position, plan, refusals)
        stacks.append(_stack(position, plan))
    refusals.stop()
    return Pinning(format, tuple(stacks))


Plan = list[tuple[str, int]]


def _read(format: CoreFormat, key: str | Bitting, name: str, refusals: Refusals) -> list[int | None]:
    """The key's cuts, None where one cannot be told."""
    text = key.text if isinstance(key, Bitting) else key
    refusals.extend(refusals_of(format, text, name))
    if len(text) != format.positions:
        return [None] * format.positions
    return [format.number_of(symbol) for symbol in text]


def _read_control(format: CoreFormat, control: str | Bitting | None, refusals: Refusals) -> list[int | None]:
    if control is not None and format.sleeve:
        return _read(format, control, "control key", refusals)
    if control is not None:
        refusals.add("control_not_used", "This format has no control sleeve; leave the control key out.")
    if control is None and format.sleeve:
        refusals.add("control_required", "This format has a control sleeve; give the control key.")
    return [None] * format.positions


def _refuse_parity(format: CoreFormat, keys: list[list[int | None]], refusals: Refusals) -> None:
    for position, column in enumerate(zip(*keys, strict=True), 1):
        found = sorted({cut % format.step for cut in column if cut is not None})
        if len(found) > 1:
            refusals.add(
                "parity",
                f"Position {position}: the operating cuts are not a multiple of {format.step} apart; "
                f"choose cuts of one series (remainders {sizes_text(tuple(found))} are mixed).",
                position,
            )


def _plan(
    format: CoreFormat, position: int, column: list[int | None], control: int | None, refusals: Refusals
) -> Plan:
    """The pins of a position from the key upwards, as far as the cuts are known."""
    cuts = sorted({cut for cut in column if cut is not None})
    plan: Plan = []
    if None not in column and cuts:
        plan.append(("bottom", cuts[0]))
        plan += [("master", upper - lower) for lower, upper in pairwise(cuts)]
        if position not in format.sleeve:
            plan += _plain_top(format, position, cuts[-1], refusals)
            _refuse_control_cut(position, cuts, control, refusals)
        elif control is not None:
            plan.append(("control", control + format.addition - cuts[-1]))
    if position in format.sleeve and control is not None and format.total.sleeve is not None:
        plan.append(("top", format.total.sleeve - format.addition - control))
    return plan


def _plain_top(format: CoreFormat, position: int, deepest: int, refusals: Refusals) -> Plan:
    if format.drivers is None:
        return [("top", (format.total.plain or 0) - deepest)]
    for row in format.drivers:
        if row.low <= deepest <= row.high:
            return [("top", row.pin)]
    refusals.add(
        "unbuildable",
        f"Position {position}: the driver table has no row for plug total {deepest}; add one.",
        position,
    )
    return []


def _refuse_control_cut(position: int, cuts: list[int], control: int | None, refusals: Refusals) -> None:
    if control is not None and control not in cuts:
        refusals.add(
            "control_cut",
            f"Position {position}: it lies outside the sleeve, so the control key needs "
            f"an operating cut there; use {sizes_text(tuple(cuts))}.",
            position,
        )


def _refuse_unbuildable(format: CoreFormat, position: int, plan: Plan, refusals: Refusals) -> None:
    for role, size in plan:
        if size not in format.pins.sizes(role):
            refusals.add(
                "unbuildable",
                f"Position {position}: a {role} pin of {size} is needed, and the kit has "
                f"{sizes_text(format.pins.sizes(role))}; {REMEDIES[role]}.",
                position,
            )


def _stack(position: int, plan: Plan) -> PinStack:
    sizes = dict(plan)
    masters = tuple(size for role, size in plan if role == "master")
    return PinStack(position, sizes.get("bottom", 0), masters, sizes.get("control"), sizes.get("top", 0))


def parse_stacks(format: CoreFormat, stacks: object) -> Pinning:
    """The core whose pins a list of objects names; raises `Refused` with every wrong entry.

    Only shape is checked, not the kit: any column of pins can be put into a core and tried.
    """
    refusals = Refusals()
    fields = Fields({"stacks": stacks}, "input", refusals, ("stacks",))
    parsed = [_parse_stack(format, item, place, refusals) for place, item in _numbered(fields)]
    _refuse_positions(format, [stack.position for stack in parsed], fields)
    refusals.stop()
    return Pinning(format, tuple(sorted(parsed, key=lambda stack: stack.position)))


def _numbered(fields: Fields) -> Iterator[tuple[int, object]]:
    return enumerate(fields.items("stacks", 100), 1)


def _parse_stack(format: CoreFormat, item: object, place: int, refusals: Refusals) -> PinStack:
    fields = Fields(item, f"stack {place}", refusals, STACK_FIELDS)
    stack = PinStack(
        fields.integer("position", 1, format.positions),
        fields.integer("bottom", 0, LARGEST_SIZE),
        fields.integers("masters", 0, LARGEST_SIZE, 100),
        fields.integer_or_none("control", 0, LARGEST_SIZE),
        fields.integer("top", 0, LARGEST_SIZE),
    )
    total = fields.integer_or_none("total", 0, 1_000_000)
    if total is not None and fields.read(*STACK_FIELDS) and total != stack.total:
        message = f"the pins add up to {stack.total}, not {total}; measure them again."
        fields.refuse("total", "total", message, stack.position)
    return stack


def _refuse_positions(format: CoreFormat, found: list[int], fields: Fields) -> None:
    if fields.read("stacks") and sorted(found) != list(range(1, format.positions + 1)):
        fields.refuse("stacks", "positions", f"give each position from 1 to {format.positions} once.")


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
