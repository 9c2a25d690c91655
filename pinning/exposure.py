"""How exposed a core is: what its pins let in beyond the keys they were meant for, and what that costs.

Every wafer (a master pin) lets in more bittings than the keys it serves. Whoever holds one change key and the
core it turns can work out the master by trying each position's other depths (IACR ePrint 2002/160); the more
a core lets in, the more keys turn it that nobody cut on purpose.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> format = load("fixed-6")
>>> keys = {name: parse_bitting(format, name) for name in ("333333", "335555")}
>>> core = pin(format, [*keys, "555555"], None)
>>> found = expose(core, keys.values())
>>> found.accepts, found.unplanned, found.wafers, found.idle
(64, 62, 6, ((1, 1), (2, 1)))
>>> pinned_for(core, keys.values())
Leaner(accepts=16, wafers=4)
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import prod
from typing import TypeVar

from pinning.abiding import keeps
from pinning.bittings import Bitting
from pinning.columns import Pinning
from pinning.counting import amplification, count_bittings
from pinning.incidental import legal
from pinning.shear import operating_cuts, withdrawing_cuts

__all__ = ["Exposure", "Leaner", "expose", "pinned_for", "without_each"]

Name = TypeVar("Name")


@dataclass(frozen=True, slots=True)
class Exposure:
    """One core's figures.

    `accepts` counts the bittings that turn the plug, `legal` those of them that may be cut, `unplanned` those
    that may be cut and are no planned key; `withdrawing` those that may be cut and take the core out.
    `wafers` are its master pins, `idle_wafers` those more than its planned keys need; `idle` holds (position,
    cuts that clear there and are no planned key's), whether a wafer or the top of a control pin lets them in.
    `trials` and `blanks` are the most that finding the master takes somebody with a change key and the core.
    """

    accepts: int
    legal: int
    unplanned: int
    withdrawing: int
    wafers: int
    idle_wafers: int
    idle: tuple[tuple[int, int], ...]
    trials: int
    blanks: int


@dataclass(frozen=True, slots=True)
class Leaner:
    """What a core would be, pinned for some keys only."""

    accepts: int
    wafers: int


def expose(core: Pinning, planned: Iterable[Bitting]) -> Exposure:
    """The figures of a core that was meant to turn for the `planned` keys, all of its format."""
    meant = list(planned)
    keys = {key.cuts for key in meant}
    wafers = sum(len(stack.masters) for stack in core.stacks)
    format, box = core.format, operating_cuts(core)
    may_be_cut = count_bittings(box, format.macs) if all(box) else 0
    trials, blanks = amplification(format, next(iter(sorted(keys)), None))
    return Exposure(
        accepts=core.accepts,
        legal=may_be_cut,
        unplanned=may_be_cut - sum(_lies_in(box, key) and keeps(legal(format), key) for key in keys),
        withdrawing=count_bittings(withdrawing_cuts(core), format.macs),
        wafers=wafers,
        idle_wafers=max(wafers - pinned_for(core, meant).wafers, 0) if meant else 0,
        idle=_idle(core, keys),
        trials=trials,
        blanks=blanks,
    )


def _lies_in(box: tuple[tuple[int, ...], ...], cuts: tuple[int, ...]) -> bool:
    return all(cut in column for column, cut in zip(box, cuts, strict=True))


def _idle(core: Pinning, keys: set[tuple[int, ...]]) -> tuple[tuple[int, int], ...]:
    """A position without pins lets every cut in and has no wafer to take out."""
    numbers = (
        (stack.position, len(set(column) - {key[stack.position - 1] for key in keys}))
        for stack, column in zip(core.stacks, operating_cuts(core), strict=True)
        if not stack.is_empty and keys
    )
    return tuple((position, number) for position, number in numbers if number)


def pinned_for(core: Pinning, keys: Iterable[Bitting]) -> Leaner:
    """The core pinned anew for these keys alone: a wafer for each further cut of a position.

    Positions without pins stay without.
    """
    columns = list(zip(*(key.cuts for key in keys), strict=True))
    return _leaner(core, [len(set(column)) for column in columns])


def without_each(core: Pinning, planned: Mapping[Name, Iterable[Bitting]]) -> dict[Name, Leaner]:
    """What the core would be without each of these groups of keys (a level of masters, say) in turn.

    A group whose loss would leave no key is left out.
    """
    held = {name: [key.cuts for key in keys] for name, keys in planned.items()}
    everyone = [cuts for group in held.values() for cuts in group]
    uses = [Counter(column) for column in zip(*everyone, strict=True)]
    found = {}
    for name, group in held.items():
        if len(group) < len(everyone):
            own = [Counter(cuts[place] for cuts in group) for place in range(len(uses))]
            found[name] = _leaner(core, [len(all_uses - own[place]) for place, all_uses in enumerate(uses)])
    return found


def _leaner(core: Pinning, cuts: list[int]) -> Leaner:
    """By how many cuts each position has to let in."""
    depths = len(core.format.depth_values)
    filled = list(zip(core.stacks, cuts, strict=True))
    return Leaner(
        accepts=prod(depths if stack.is_empty else number for stack, number in filled),
        wafers=sum(number - 1 for stack, number in filled if not stack.is_empty),
    )
