"""In which order the cores of a pin order are built: a kit is opened once, and of one core after another as
few other pins are taken as a next-best walk finds.

Only the order of the cores comes of their pins; nothing of a core is told by it but that it is like the next.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from keyctl import engine
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.shortage import Plans
from keyctl.stock.families import pins_in

Pins = Counter[tuple[str, int]]
# A longer list is sorted by its pins; the walk asks for every pair.
LONGEST_WALK = 200


@dataclass(frozen=True)
class Built:
    """A line with the pins that its core has, or shall have; None where the plan cannot be built."""

    line: OrderLine
    pinned: engine.Pinning | None


def bench_sequence(order: WorkOrder) -> list[OrderLine]:
    """Kit by kit; what cannot be built by its plan comes last."""
    built = built_lines(order)
    known = [each for each in built if each.pinned is not None]
    by_kit: dict[str, list[Built]] = {}
    for each in known:
        if each.pinned:
            by_kit.setdefault(each.pinned.format.name, []).append(each)
    walked = [each for _, kit in sorted(by_kit.items()) for each in _walk(kit)]
    return [each.line for each in [*walked, *(each for each in built if each.pinned is None)]]


def built_lines(order: WorkOrder) -> list[Built]:
    lines = list(
        order.lines.exclude(state=OrderLine.State.CANCELLED)
        .filter(core__isnull=False)
        .select_related("order__site", "core__system", "core__site", "done_by")
        .prefetch_related("core__keyed_to")
        .order_by("ordinal")
    )
    plans = Plans([line.core for line in lines if line.core and line.is_open])
    return [Built(line, _pins(line, plans)) for line in lines]


def changes_between(first: Pins, second: Pins) -> int:
    """How many pins the second takes that the first did not."""
    return (second - first).total()


def _pins(line: OrderLine, plans: Plans) -> engine.Pinning | None:
    if line.core is None:
        return None
    if not line.is_open:
        return pins_of(line.core) if line.core.is_pinned else None
    try:
        return plans.of(line.core)
    except Refused:
        return None


def _walk(kit: Sequence[Built]) -> list[Built]:
    """From the first by its pins always to the one that is most like it; the tag decides where two are."""
    waiting = sorted(kit, key=_by_pins)
    if len(waiting) > LONGEST_WALK:
        return waiting
    pins = {each.line.pk: pins_in(each.pinned) for each in waiting if each.pinned}
    walked = [waiting.pop(0)]
    while waiting:
        here = pins[walked[-1].line.pk]
        nearest = min(waiting, key=lambda each: changes_between(here, pins[each.line.pk]))
        waiting.remove(nearest)
        walked.append(nearest)
    return walked


def _by_pins(each: Built) -> tuple[list[tuple[tuple[str, int], ...]], str]:
    stacks = [tuple(stack.pins) for stack in each.pinned.stacks] if each.pinned else []
    return stacks, str(each.line.core)
