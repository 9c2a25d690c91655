"""From the pins in a core now to the pins it shall have, touching as few as the chambers allow.

A chamber is worked from the top pin down: the pins that both stacks share from the key upwards stay in, all
above them comes out. What comes out and is needed again goes back in; only the rest concerns the kit.

>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-5")
>>> change = repin(pin(a2, ["36149"], "74381"), pin(a2, ["36149", "36147"], "74381"))
>>> change.untouched, change.chambers[0].position
((1, 2, 3, 4), 5)
>>> change.chambers[0].remove, change.chambers[0].lift, change.chambers[0].add
((('bottom', 9),), (('control', 2), ('top', 12)), (('bottom', 7), ('master', 2)))
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

from pinning.columns import Pin, Pinning, PinStack
from pinning.errors import Refusal, Refused
from pinning.wording import said

__all__ = ["ChamberChange", "Repin", "repin"]

Pins = tuple[Pin, ...]


@dataclass(frozen=True, slots=True)
class ChamberChange:
    """One position's work, each pin as (role, size) from the key upwards.

    `keep` stays in. `remove` and `lift` come out; `lift` goes in again together with `add`, in the order of
    `insert`, on top of `keep`.
    """

    position: int
    keep: Pins
    remove: Pins
    lift: Pins
    add: Pins
    insert: Pins

    @property
    def touched(self) -> int:
        """How many pins are handled."""
        return len(self.remove) + len(self.lift) + len(self.add)


@dataclass(frozen=True, slots=True)
class Repin:
    """The chambers that change, the positions that do not, and the pins from (`add`) and for the kit."""

    chambers: tuple[ChamberChange, ...]
    untouched: tuple[int, ...]

    @property
    def add(self) -> Counter[Pin]:
        return Counter(pin for chamber in self.chambers for pin in chamber.add)

    @property
    def remove(self) -> Counter[Pin]:
        return Counter(pin for chamber in self.chambers for pin in chamber.remove)


def repin(now: Pinning, target: Pinning) -> Repin:
    """What to do to the pins; raises `Refused` (code `formats_differ`) if the cores are of two formats."""
    if now.format != target.format:
        message = said("The two pinnings are of different formats; repin a core within its own format.")
        raise Refused([Refusal("formats_differ", message)])
    pairs = list(zip(now.stacks, target.stacks, strict=True))
    return Repin(
        tuple(_change(old, new) for old, new in pairs if old != new),
        tuple(old.position for old, new in pairs if old == new),
    )


def _change(old: PinStack, new: PinStack) -> ChamberChange:
    kept = sum(1 for _ in takewhile(_is_same, zip(old.pins, new.pins, strict=False)))
    out, insert = old.pins[kept:], new.pins[kept:]
    return ChamberChange(
        position=old.position,
        keep=old.pins[:kept],
        remove=_without(out, insert),
        lift=_without(out, _without(out, insert)),
        add=_without(insert, out),
        insert=insert,
    )


def _is_same(pair: tuple[Pin, Pin]) -> bool:
    return pair[0] == pair[1]


def _without(pins: Sequence[Pin], others: Sequence[Pin]) -> Pins:
    """The pins less one for each equal one among the others."""
    spare, left = Counter(others), []
    for pin in pins:
        if spare[pin]:
            spare[pin] -= 1
        else:
            left.append(pin)
    return tuple(left)
