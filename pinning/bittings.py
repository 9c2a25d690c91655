"""Bittings: the cuts of one key, in the format's reading order.

A `Bitting` does not show its cuts when it is printed by accident (in a log, a traceback, a debugger): ask
`render` for them.

>>> from pinning.formats import load
>>> key = parse_bitting(load("small-a2-6"), "361492")
>>> key.cuts
(3, 6, 1, 4, 9, 2)
>>> key
Bitting()
>>> render(load("small-a2-6"), key)
'361492'
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from pinning.errors import Refusal, Refusals
from pinning.formats import CoreFormat
from pinning.wording import Said, said

__all__ = ["Bitting", "bitting_of", "parse_any_bitting", "parse_bitting", "refusals_of", "render"]

KEY = said("key")


@dataclass(frozen=True, slots=True)
class Bitting:
    """Depth numbers by position, and the same in the format's symbols."""

    cuts: tuple[int, ...] = field(repr=False)
    text: str = field(repr=False)


def parse_bitting(format: CoreFormat, text: str, name: str = KEY) -> Bitting:
    """A bitting that may be cut; raises `Refused` (codes `length`, `depth`, `macs`)."""
    refusals = Refusals()
    refusals.extend(refusals_of(format, text, name))
    refusals.stop()
    return _bitting(format, text)


def parse_any_bitting(format: CoreFormat, text: str, name: str = KEY) -> Bitting:
    """Any key one can try, also one that breaks the adjacent-cut limit (codes `length`, `depth`)."""
    refusals = Refusals()
    refusals.extend(_unreadable(format, text, name))
    refusals.stop()
    return _bitting(format, text)


def bitting_of(format: CoreFormat, cuts: Sequence[int]) -> Bitting:
    """The bitting of depth numbers; raises `Refused` (codes `length`, `depth`) like `parse_any_bitting`."""
    refusals = Refusals()
    for position, cut in enumerate(cuts, 1):
        if cut not in format.depth_values:
            refusals.add("depth", _depth_message(format, KEY, position, str(cut)), position)
    if len(cuts) != format.positions:
        refusals.add("length", _length_message(format, KEY, len(cuts)))
    refusals.stop()
    return Bitting(tuple(cuts), "".join(map(format.symbol_of, cuts)))


def render(format: CoreFormat, bitting: Bitting) -> str:
    """The bitting in the format's symbols."""
    return "".join(map(format.symbol_of, bitting.cuts))


def refusals_of(format: CoreFormat, text: str, name: str = KEY, also: str = "") -> Iterator[Refusal]:
    """Every reason why this text is no bitting that may be cut; `name` says in them which key is meant.

    The symbols in `also` may stand where a depth is expected.
    """
    yield from _unreadable(format, text, name, also)
    cuts = [format.number_of(symbol) for symbol in text[: format.positions]]
    for position, (last, this) in enumerate(pairwise(cuts), 2):
        if format.macs is None or last is None or this is None or abs(this - last) <= format.macs:
            continue
        yield Refusal(
            "macs",
            said(
                "{name}, positions {before} and {position}: adjacent cuts differ by {apart}; "
                "the limit is {limit}: bring them closer.",
                name=name,
                before=position - 1,
                position=position,
                apart=abs(this - last),
                limit=format.macs,
            ),
            position,
        )


def _unreadable(format: CoreFormat, text: str, name: str, also: str = "") -> Iterator[Refusal]:
    if len(text) != format.positions:
        yield Refusal("length", _length_message(format, name, len(text)))
    for position, symbol in enumerate(text[: format.positions], 1):
        if symbol not in format.depths + also:
            yield Refusal("depth", _depth_message(format, name, position, symbol), position)


def _length_message(format: CoreFormat, name: str, length: int) -> Said:
    return said(
        "{name}: {length} cuts are given for {positions} positions; give one cut per position.",
        name=name,
        length=length,
        positions=format.positions,
    )


def _depth_message(format: CoreFormat, name: str, position: int, symbol: str) -> Said:
    return said(
        "{name}, position {position}: {symbol} is no depth of this format; use one of {depths}.",
        name=name,
        position=position,
        symbol=repr(symbol),
        depths=format.depths,
    )


def _bitting(format: CoreFormat, text: str) -> Bitting:
    return Bitting(tuple(format.depth_values[format.depths.index(symbol)] for symbol in text), text)
