"""What stands on a pinning sheet: frozen values, ready for the template. No bitting, no door, no symbol."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import pgettext, pgettext_lazy

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.formats.naming import name_of
from keyctl.places.finding import printed_address

NONE = "–"
ROLES = {
    "bottom": pgettext_lazy("pins", "Bottom"),
    "master": pgettext_lazy("pins", "Master"),
    "control": pgettext_lazy("pins", "Control"),
    "top": pgettext_lazy("pins", "Top"),
}


@dataclass(frozen=True)
class StackOnSheet:
    """The pins of one position in the shop's own writing; dashes where none stands."""

    position: int
    bottom: str
    masters: str
    control: str
    top: str
    total: str


@dataclass(frozen=True)
class CoreOnSheet:
    tag: str
    # What its code says to a camera.
    address: str
    format_name: str
    starts_at: str
    stacks: tuple[StackOnSheet, ...]
    has_control: bool

    def cells(self, stack: StackOnSheet) -> tuple[str, ...]:
        control = (stack.control,) if self.has_control else ()
        return (str(stack.position), stack.bottom, stack.masters, *control, stack.top, stack.total)


@dataclass(frozen=True)
class Row:
    """How many pins of each size one role needs, and all together."""

    role: str
    counts: tuple[int, ...]

    @property
    def label(self) -> str:
        return str(ROLES[self.role])

    @property
    def together(self) -> int:
        return sum(self.counts)


@dataclass(frozen=True)
class Kit:
    """The pins to take for every core of one format on the sheet."""

    format_name: str
    sizes: tuple[int, ...]
    rows: tuple[Row, ...]
    # The size that the stacks write as +0, where the shop counts control pins from the sleeve.
    control_zero: int | None


@dataclass(frozen=True)
class PinningSheet:
    cores: tuple[CoreOnSheet, ...]
    waiting: tuple[str, ...]
    kits: tuple[Kit, ...]


def pinning_sheet(pinned: list[tuple[Core, engine.Pinning]], waiting: list[Core]) -> PinningSheet:
    return PinningSheet(
        cores=tuple(core_on_sheet(core, pinning) for core, pinning in pinned),
        waiting=tuple(str(core) for core in waiting),
        kits=tuple(kits_of([pinning for _, pinning in pinned])),
    )


def core_on_sheet(core: Core, pinning: engine.Pinning) -> CoreOnSheet:
    is_from_tip = pinning.format.order == "tip-bow"
    first = pgettext("on a drawing", "tip") if is_from_tip else pgettext("on a drawing", "bow")
    return CoreOnSheet(
        tag=str(core),
        address=printed_address(core.tag),
        format_name=name_of(pinning.format),
        starts_at=first,
        stacks=stacks_on_sheet(pinning),
        has_control=any(stack.control is not None for stack in pinning.stacks),
    )


def stacks_on_sheet(pinning: engine.Pinning) -> tuple[StackOnSheet, ...]:
    return tuple(_stack_on_sheet(stack, pinning.format) for stack in pinning.stacks)


def _stack_on_sheet(stack: engine.PinStack, format: engine.CoreFormat) -> StackOnSheet:
    if stack.is_empty:
        return StackOnSheet(stack.position, NONE, NONE, NONE, NONE, NONE)
    return StackOnSheet(
        position=stack.position,
        bottom=str(stack.bottom),
        masters=" + ".join(map(str, stack.masters)) or NONE,
        control=NONE if stack.control is None else engine.control_label(format, stack.control),
        top=str(stack.top),
        total=str(stack.total),
    )


def kits_of(pinnings: list[engine.Pinning]) -> Iterator[Kit]:
    """What to take from each format's kit: a size of one format is another length in the next."""
    formats = {pinning.format.name: pinning.format for pinning in pinnings}
    for name, format in sorted(formats.items()):
        stacks = [stack for pinning in pinnings if pinning.format.name == name for stack in pinning.stacks]
        yield _kit(format, Counter(pin for stack in stacks for pin in stack.pins))


def _kit(format: engine.CoreFormat, pins: Counter[tuple[str, int]]) -> Kit:
    sizes = tuple(sorted({size for _, size in pins}))
    rows = (Row(role, tuple(pins[role, size] for size in sizes)) for role in ROLES)
    is_relative = format.control is not None and format.control.numbering == "relative"
    zero = format.addition if is_relative else None
    return Kit(name_of(format), sizes, tuple(row for row in rows if row.together), zero)
