"""Readings and changes of pins as the rows of tables."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.engine import CoreFormat, Doubt, PinStack, Reading, Repin, control_label, say

Pins = Iterable[tuple[str, int]]
PINS = {
    "bottom": gettext_lazy("bottom {size}"),
    "master": gettext_lazy("master {size}"),
    "control": gettext_lazy("control {size}"),
    "top": gettext_lazy("top {size}"),
}


@dataclass(frozen=True)
class DoubtRow:
    """One doubt with what else it may be, in words."""

    position: int
    message: str
    alternatives: tuple[str, ...]


@dataclass(frozen=True)
class DecodedRow:
    """One position: its pins as the shop writes them, and the cuts they are for."""

    position: int
    bottom: str
    masters: str
    control: str
    top: str
    operating: str
    control_cuts: str
    is_doubtful: bool


@dataclass(frozen=True)
class ChamberRow:
    """One chamber that changes: what stays, what comes out, and what goes in on top of what stays."""

    position: int
    keep: str
    remove: str
    lift: str
    insert: str


@dataclass(frozen=True)
class KitRow:
    pin: str
    count: int


def decoded_rows(format: CoreFormat, reading: Reading) -> list[DecodedRow]:
    return [_row(format, reading, place) for place in range(format.positions)]


def _row(format: CoreFormat, reading: Reading, place: int) -> DecodedRow:
    stack = reading.stacks[place]
    return DecodedRow(
        position=stack.position,
        bottom="" if stack.is_empty else str(stack.bottom),
        masters=", ".join(map(str, stack.masters)),
        control="" if stack.control is None else control_label(format, stack.control),
        top="" if stack.is_empty else str(stack.top),
        operating=signs(format, reading.operating[place]),
        control_cuts=signs(format, reading.control_cuts[place]) if reading.control_cuts else "",
        is_doubtful=any(doubt.position == stack.position for doubt in reading.doubts),
    )


def signs(format: CoreFormat, cuts: Iterable[int]) -> str:
    """Cuts as depth symbols; one that no key of the format can have stands as a number in brackets."""
    return ", ".join(format.symbol_of(cut) if cut in format.depth_values else f"({cut})" for cut in cuts)


def doubt_rows(format: CoreFormat, doubts: Iterable[Doubt]) -> list[DoubtRow]:
    return [
        DoubtRow(
            doubt.position,
            say(doubt.message),
            tuple(other_words(format, each) for each in doubt.alternatives),
        )
        for doubt in doubts
    ]


def other_words(format: CoreFormat, alternative: PinStack | str) -> str:
    """What a doubt may be instead: a depth symbol, or pins."""
    if isinstance(alternative, str):
        return alternative
    return _words(format, alternative.pins) or _("no pins")


def chamber_rows(format: CoreFormat, change: Repin) -> list[ChamberRow]:
    return [
        ChamberRow(
            chamber.position,
            keep=_words(format, chamber.keep),
            remove=_words(format, chamber.remove),
            lift=_words(format, chamber.lift),
            insert=_words(format, chamber.insert),
        )
        for chamber in change.chambers
    ]


def kit_rows(format: CoreFormat, pins: Mapping[tuple[str, int], int]) -> list[KitRow]:
    """How many of each pin, in the order they stand in a chamber."""
    order = ("bottom", "master", "control", "top")
    wanted = sorted(pins.items(), key=lambda item: (order.index(item[0][0]), item[0][1]))
    return [KitRow(_words(format, [pin]), count) for pin, count in wanted if count]


def _words(format: CoreFormat, pins: Pins) -> str:
    """Pins by role and kit number: "bottom 5, control +2"; nothing where there is none."""
    return ", ".join(
        str(PINS[role]).format(size=control_label(format, size) if role == "control" else size)
        for role, size in pins
    )
