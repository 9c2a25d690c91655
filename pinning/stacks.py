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

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from pinning.bittings import Bitting, refusals_of
from pinning.columns import PIN_OF, Pinning, PinStack, control_label, empty_stack, parse_stacks
from pinning.errors import Refusals
from pinning.fields import sizes_text
from pinning.formats import EMPTY, CoreFormat
from pinning.wording import Said, said

__all__ = ["PinStack", "Pinning", "control_label", "parse_stacks", "pin"]

CONTROL_KEY = said("control key")
REMEDIES = {
    "bottom": said("choose a shallowest cut whose bottom pin exists"),
    "master": said("choose cuts that differ by a size in the kit"),
    "control": said("change the control cut or the deepest operating cut"),
    "top": said("change the cut it stands on"),
}


Plan = list[tuple[str, int]]
Cuts = list[int | None]


def pin(format: CoreFormat, operating: Sequence[str | Bitting], control: str | Bitting | None) -> Pinning:
    """The pins that let every operating key turn the plug and the control key, if any, turn the sleeve.

    A '-' in place of a cut leaves that position without pins; every key needs it there. No operating key
    given turns the sleeve: such a set of keys is refused. Whether the control key turns the plug too is not
    looked at (`turn` tells); `propose_control` finds one that does not.

    Raises `Refused` with every reason over all keys and positions: `no_keys`, `length`, `depth`, `macs`,
    `parity`, `control_required`, `control_not_used`, `control_cut`, `empty_position`, `unbuildable`, and
    `control_shared` if nothing else is wrong.
    """
    refusals = Refusals()
    names = list(map(_name, range(1, len(operating) + 1)))
    keys = [_read(format, key, name, refusals) for key, name in zip(operating, names, strict=True)]
    control_cuts = _read_control(format, control, refusals)
    if not operating:
        refusals.add("no_keys", said("No operating key is given; give at least one."))
    _refuse_parity(format, keys, refusals)
    texts = [_text(key) for key in (*operating, *([control] if control and format.sleeve else []))]
    empty = _empty_positions(format, texts, refusals)
    stacks = []
    for position in range(1, format.positions + 1):
        column = [cuts[position - 1] for cuts in keys]
        plan = _plan(format, position, column, control_cuts[position - 1], refusals)
        _refuse_unbuildable(format, position, plan, refusals)
        stacks.append(empty_stack(position) if position in empty else _stack(position, plan))
    _refuse_shared(format, stacks, dict(zip(names, keys, strict=True)), refusals)
    refusals.stop()
    return Pinning(format, tuple(stacks))


@cache
def _name(number: int) -> Said:
    return said("operating key {number}", number=number)


def _text(key: str | Bitting) -> str:
    return key.text if isinstance(key, Bitting) else key


def _read(format: CoreFormat, key: str | Bitting, name: str, refusals: Refusals) -> Cuts:
    """The key's cuts, None where one cannot be told."""
    text = _text(key)
    refusals.extend(refusals_of(format, text, name, EMPTY))
    if len(text) != format.positions:
        return [None] * format.positions
    return [format.number_of(symbol) for symbol in text]


def _empty_positions(format: CoreFormat, texts: list[str], refusals: Refusals) -> list[int]:
    """The positions that stay without pins: those in which the keys have no cut but EMPTY."""
    rows = [text for text in texts if len(text) == format.positions and EMPTY in text]
    empty = [place + 1 for place in range(format.positions) if any(row[place] == EMPTY for row in rows)]
    for position in empty:
        if any(len(text) == format.positions and text[position - 1] != EMPTY for text in texts):
            message = said(
                "Position {position}: {empty} leaves it without pins; put {empty} there in every key, "
                "the control key too, or give each a cut.",
                position=position,
                empty=repr(EMPTY),
            )
            refusals.add("empty_position", message, position)
    if len(empty) == format.positions:
        refusals.add("empty_position", said("No position has pins; give cuts in one at least."))
    return empty


def _refuse_shared(
    format: CoreFormat, stacks: list[PinStack], keys: dict[str, Cuts], refusals: Refusals
) -> None:
    """No key that is given to operate may withdraw the core. It can where two operating cuts of a position
    lie as far apart as the two lines, or where it carries the control key's own cut.
    """
    if len(refusals) or not format.sleeve:
        return
    for name, cuts in keys.items():
        if all(
            cut is None or stack.clears(cut + format.lift(stack.position))
            for stack, cut in zip(stacks, cuts, strict=True)
        ):
            refusals.add(
                "control_shared",
                said(
                    "{name} would also withdraw the core; in one position under the sleeve "
                    "({sleeve}) give the control key another cut than this key, and let no "
                    "operating cut lie {addition} below another.",
                    name=name,
                    sleeve=sizes_text(format.sleeve),
                    addition=format.addition,
                ),
            )


def _read_control(format: CoreFormat, control: str | Bitting | None, refusals: Refusals) -> Cuts:
    if control is not None and format.sleeve:
        return _read(format, control, CONTROL_KEY, refusals)
    if control is not None:
        message = said("This format has no control sleeve; leave the control key out.")
        refusals.add("control_not_used", message)
    if control is None and format.sleeve:
        message = said("This format has a control sleeve; give the control key.")
        refusals.add("control_required", message)
    return [None] * format.positions


def _refuse_parity(format: CoreFormat, keys: list[Cuts], refusals: Refusals) -> None:
    for position, column in enumerate(zip(*keys, strict=True), 1):
        found = sorted({cut % format.step for cut in column if cut is not None})
        if len(found) > 1:
            refusals.add(
                "parity",
                said(
                    "Position {position}: the operating cuts are not a multiple of {step} apart; "
                    "choose cuts of one series (remainders {remainders} are mixed).",
                    position=position,
                    step=format.step,
                    remainders=sizes_text(tuple(found)),
                ),
                position,
            )


def _plan(format: CoreFormat, position: int, column: Cuts, control: int | None, refusals: Refusals) -> Plan:
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
    top = format.plain_top(deepest)
    if top is not None:
        return [("top", top)]
    reason = said("the driver table has no row for plug total {deepest}; add one.", deepest=deepest)
    refusals.add("unbuildable", _at(position, reason), position)
    return []


def _refuse_control_cut(position: int, cuts: list[int], control: int | None, refusals: Refusals) -> None:
    if control is not None and control not in cuts:
        refusals.add(
            "control_cut",
            said(
                "Position {position}: it lies outside the sleeve, so the control key needs "
                "an operating cut there; use {cuts}.",
                position=position,
                cuts=sizes_text(tuple(cuts)),
            ),
            position,
        )


def _refuse_unbuildable(format: CoreFormat, position: int, plan: Plan, refusals: Refusals) -> None:
    for role, size in plan:
        if size not in format.pins.sizes(role):
            reason = said(
                "a {pin} of {size} is needed, and the kit has {sizes}; {remedy}.",
                pin=PIN_OF[role],
                size=size,
                sizes=sizes_text(format.pins.sizes(role)),
                remedy=REMEDIES[role],
            )
            refusals.add("unbuildable", _at(position, reason), position)


def _at(position: int, reason: Said) -> Said:
    return said("Position {position}: {reason}", position=position, reason=reason)


def _stack(position: int, plan: Plan) -> PinStack:
    sizes = dict(plan)
    masters = tuple(size for role, size in plan if role == "master")
    return PinStack(position, sizes.get("bottom", 0), masters, sizes.get("control"), sizes.get("top", 0))
