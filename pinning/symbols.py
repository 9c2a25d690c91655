"""Standard key symbols: a key's place in the hierarchy, written the trade's way.

Sources: ANSI/BHMA A156.28 as told in Keynotes 2014-05 p.19 and 2017-07 p.46. With one level keys are
single-keyed (SKD1). With two, the master is AA and its changes 1AA. With three, the master is A, the keys
below it AA, AB, and their changes AA1. With four, GGM, A, AA, AA1. A change right below a higher key takes
that key's name (A1, GGM1). The letters I and O are not used. After AZ follows A2A: a letter of a second
round carries a 2 before it; we carry the rule over to the first letter (2A follows Z), and to a fifth and
sixth level (GGGM, A, AA, AAA, AAA1): for these two we know no source.

A path of indexes, each from 0, says where a key stands; () is the top master.

>>> [key_symbol(4, path) for path in [(), (0,), (0, 1), (0, 1, 2), (0, 24), (24,)]]
['GGM', 'A', 'AB', 'AB3', 'A2A', '2A']
>>> [key_symbol(3, path) for path in [(), (0,), (0, 0)]], [key_symbol(2, path) for path in [(), (0,)]]
(['A', 'AA', 'AA1'], ['AA', '1AA'])
>>> direct_change(4, (), 0), direct_change(4, (0,), 0), cross_keyed(4, "AA1")
('GGM1', 'A1', 'XAA1')
>>> single_keyed(0), without_change(0), CONTROL
('SKD1', 'X1X', 'CTR')
>>> parse_symbol(4, "XAB3")
Symbol(kind='change', path=(0, 1), number=3, crossed=True)
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pinning.errors import PinningError

__all__ = [
    "CONTROL",
    "MOST_LEVELS",
    "Symbol",
    "cross_keyed",
    "direct_change",
    "key_symbol",
    "parse_symbol",
    "single_keyed",
    "without_change",
]

CONTROL = "CTR"
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
MOST_LEVELS = 6
_LETTER = f"(?:[1-9][0-9]{{0,5}})?[{LETTERS}]"
_ONE_LETTER = re.compile(_LETTER)
_NAMED = re.compile(f"((?:{_LETTER})*)([1-9][0-9]{{0,8}})?")


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol read back: `path` leads to the master or to the key above a change; `number` counts from 1."""

    kind: str  # master, change, single, control, without_change
    path: tuple[int, ...] = ()
    number: int | None = None
    crossed: bool = False


def key_symbol(levels: int, path: Sequence[int]) -> str:
    """The symbol of the key at the end of `path`; raises `PinningError` if the levels have no such key."""
    _check(levels, path)
    if levels == 1:
        return single_keyed(path[0]) if path else _no_master()
    if len(path) == levels - 1:
        return direct_change(levels, path[:-1], path[-1])
    return _master(levels, path)


def direct_change(levels: int, path: Sequence[int], index: int) -> str:
    """The change key of that index right below the master at `path`."""
    _check(levels, (*path, index))
    if levels == 1:
        return single_keyed(index)
    master = _master(levels, path)
    return f"{index + 1}{master}" if levels == 2 else f"{master}{index + 1}"


def single_keyed(index: int) -> str:
    """A key outside the hierarchy, with a core of its own."""
    return f"SKD{index + 1}"


def without_change(index: int) -> str:
    """A core that only higher keys turn, without a change key of its own."""
    return f"X{index + 1}X"


def cross_keyed(levels: int, symbol: str) -> str:
    """The core of a change key that other keys turn too; raises where the X would be read as a master's
    letter.

    >>> cross_keyed(2, "1AA")
    'X1AA'
    """
    crossed = f"X{symbol}"
    if parse_symbol(levels, symbol).kind != "change" or not parse_symbol(levels, crossed).crossed:
        raise PinningError(f"{symbol} cannot be cross-keyed: {crossed} is not a plain cross-keyed change.")
    return crossed


def parse_symbol(levels: int, text: str) -> Symbol:
    """The symbol of a system with that many levels; raises `PinningError` if it is none.

    A reading without cross-keying is preferred: with four levels XA1 is the first change below master XA.
    """
    _check(levels, ())
    found = _parse_special(text) or _parse_plain(levels, text)
    if found is None and text.startswith("X"):
        found = _crossed(_parse_plain(levels, text[1:]))
    if found is None:
        raise PinningError(f"{text[:40]!r} is no key symbol of a system with {levels} levels.")
    return found


def _check(levels: int, path: Sequence[int]) -> None:
    if not 1 <= levels <= MOST_LEVELS:
        raise PinningError(f"A system has 1 to {MOST_LEVELS} levels, not {levels}.")
    if len(path) > max(levels - 1, 1) or any(index < 0 for index in path):
        raise PinningError(f"A system of {levels} levels has no key at {tuple(path)}.")


def _no_master() -> str:
    raise PinningError("A system of one level has no master; give the index of a key.")


def _master(levels: int, path: Sequence[int]) -> str:
    if levels < 4:
        return {2: "AA", 3: "A"}[levels] + "".join(map(_letter, path))
    return "".join(map(_letter, path)) or "G" * (levels - 2) + "M"


def _letter(index: int) -> str:
    """
    >>> [_letter(index) for index in (0, 8, 23, 24, 48)]
    ['A', 'J', 'Z', '2A', '3A']
    """
    turns, place = divmod(index, len(LETTERS))
    return f"{turns + 1 if turns else ''}{LETTERS[place]}"


def _index(letter: str) -> int:
    return (int(letter[:-1] or 1) - 1) * len(LETTERS) + LETTERS.index(letter[-1])


def _parse_special(text: str) -> Symbol | None:
    if text == CONTROL:
        return Symbol("control")
    for pattern, kind in (("SKD([1-9][0-9]{0,8})", "single"), ("X([1-9][0-9]{0,8})X", "without_change")):
        if match := re.fullmatch(pattern, text):
            return Symbol(kind, (), int(match[1]))
    return None


def _parse_plain(levels: int, text: str) -> Symbol | None:
    """Read generously, then written again: only a symbol that we would write ourselves is taken."""
    for symbol in _readings(levels, text):
        if _write(levels, symbol) == text:
            return symbol
    return None


def _readings(levels: int, text: str) -> list[Symbol]:
    if levels == 2:
        return [_numbered((), text.removesuffix("AA"))]
    top = "A" if levels == 3 else "G" * (levels - 2) + "M"
    readings = [_numbered((), text[len(top) :])] if text.startswith(top) else []
    if levels > 2 and (match := _NAMED.fullmatch(text)):
        path = tuple(_index(letter) for letter in _ONE_LETTER.findall(match[1]))
        readings.append(_numbered(path[1:] if levels == 3 else path, match[2] or ""))
    return readings


def _numbered(path: tuple[int, ...], digits: str) -> Symbol:
    if re.fullmatch("[1-9][0-9]{0,8}", digits):
        return Symbol("change", path, int(digits))
    return Symbol("master", path)


def _write(levels: int, symbol: Symbol) -> str | None:
    try:
        if symbol.number is None:
            return _master(levels, symbol.path) if len(symbol.path) < max(levels - 1, 1) else None
        return direct_change(levels, symbol.path, symbol.number - 1)
    except PinningError:
        return None


def _crossed(symbol: Symbol | None) -> Symbol | None:
    if symbol is None or symbol.kind != "change":
        return None
    return Symbol("change", symbol.path, symbol.number, crossed=True)
