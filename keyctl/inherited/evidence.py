"""A reconstruction as its page tells it."""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl import engine
from keyctl.lib.language import Text

TOLD_BY = {
    "key": gettext_lazy("a key in circulation turns them"),
    "group": gettext_lazy("cores of one part of the house share them"),
    "pins": gettext_lazy("only by how the pins vary: a guess"),
}
KEY_WORDS = {
    "top": gettext_lazy("the top master itself"),
    "master": gettext_lazy("a master: it turns several of the cores"),
    "change": gettext_lazy("a change key: it turns one of the cores"),
    "unknown": gettext_lazy("turns none of the cores"),
}


@dataclass(frozen=True)
class Place:
    """One position of a candidate: its cut, and what else may stand there."""

    position: int
    cut: str = field(repr=False)
    cores: int
    others: tuple[tuple[str, str], ...] = field(repr=False)  # cut, its chance


@dataclass(frozen=True)
class Shown:
    """One candidate."""

    number: int
    text: str = field(repr=False)
    percent: str
    turns: int
    fails: tuple[str, ...]
    places: tuple[Place, ...]


@dataclass(frozen=True)
class Column:
    position: int
    master: str = field(repr=False)
    seen: tuple[str, ...] = field(repr=False)
    unseen: tuple[str, ...] = field(repr=False)
    off_step: tuple[str, ...] = field(repr=False)


@dataclass(frozen=True)
class Under:
    """One position of the control key: its cut, how many cores have it, and the others seen."""

    position: int
    cut: str = field(repr=False)
    cores: int
    others: tuple[tuple[str, int], ...] = field(repr=False)
    is_under: bool


@dataclass(frozen=True)
class Branch:
    """A master below the top."""

    text: str = field(repr=False)
    name: str
    positions: str
    members: tuple[str, ...]
    told_by: Text
    above: str = field(repr=False)


@dataclass(frozen=True)
class Evidence:
    candidates: tuple[Shown, ...]
    considered: int
    is_complete: bool
    is_settled: bool
    open_bits: float
    array: tuple[Column, ...]
    control: tuple[Under, ...]
    control_text: str = field(repr=False)
    against: tuple[str, ...]
    shared: str
    alike: str
    levels: tuple[tuple[str, str], ...]
    branches: tuple[Branch, ...]
    odd: tuple[str, ...]
    keys: tuple[tuple[str, int, str], ...]
    advice: tuple[str, ...]


def shown(again: engine.Reconstructed) -> Evidence:
    found, levels = again.found, again.levels
    return Evidence(
        candidates=tuple(_candidate(again, number) for number in range(len(found.candidates))),
        considered=len(found.shares),
        is_complete=found.is_complete,
        is_settled=found.entropy_bits < 0.01,
        open_bits=found.entropy_bits,
        array=_array(again),
        control=_control(again),
        control_text=found.control.bitting.text if found.control and found.control.bitting else "",
        against=found.control.against if found.control else (),
        shared=_numbers(levels.shared),
        alike=_numbers(levels.alike),
        levels=tuple((_numbers(level.positions), str(TOLD_BY[level.told_by])) for level in levels.levels),
        branches=_branches(again),
        odd=tuple(engine.say(odd.message) for odd in found.odd),
        keys=tuple((name, len(turned), str(KEY_WORDS[what])) for name, turned, what in found.key_parts),
        advice=tuple(engine.say(each.message) for each in again.advice),
    )


def _numbers(positions: tuple[int, ...]) -> str:
    """
    >>> _numbers((3,)), _numbers((3, 4))
    ('position 3', 'positions 3, 4')
    """
    if not positions:
        return ""
    return ngettext("position {positions}", "positions {positions}", len(positions)).format(
        positions=", ".join(map(str, positions))
    )


def _percent(share: float) -> str:
    """
    >>> _percent(0.997), _percent(0.42), _percent(0.003)
    ('over 99 %', '42 %', 'under 1 %')
    """
    if not 0.01 <= share <= 0.99:
        return _("under 1 %") if share < 0.01 else _("over 99 %")
    return f"{share:.0%}".replace("%", " %")


def _candidate(again: engine.Reconstructed, number: int) -> Shown:
    format, candidate = again.found.format, again.found.candidates[number]
    places = []
    for position, (own, *others) in enumerate(candidate.positions, 1):
        rest = tuple((format.symbol_of(each.cut), _percent(each.share)) for each in others)
        places.append(Place(position, format.symbol_of(own.cut), own.cores, rest))
    return Shown(
        number + 1,
        candidate.bitting.text,
        _percent(candidate.share),
        len(candidate.turns),
        candidate.fails,
        tuple(places),
    )


def _array(again: engine.Reconstructed) -> tuple[Column, ...]:
    format = again.found.format
    return tuple(
        Column(
            position,
            format.symbol_of(column.master),
            *(tuple(map(format.symbol_of, cuts)) for cuts in (column.seen, column.unseen, column.off_step)),
        )
        for position, column in enumerate(again.found.array, 1)
    )


def _control(again: engine.Reconstructed) -> tuple[Under, ...]:
    format, control = again.found.format, again.found.control
    if control is None:
        return ()
    rows = []
    for position, column in enumerate(control.positions, 1):
        is_under = position in format.sleeve
        if not is_under:
            rows.append(Under(position, format.symbol_of(again.found.best[position - 1]), 0, (), is_under))
            continue
        seen = tuple((format.symbol_of(cut), count) for cut, count in column)
        first = seen[0] if seen else ("", 0)
        rows.append(Under(position, first[0], first[1], seen[1:], is_under))
    return tuple(rows)


def _branches(again: engine.Reconstructed) -> tuple[Branch, ...]:
    masters = again.levels.masters
    return tuple(
        Branch(
            master.bitting.text,
            master.name,
            _numbers(master.positions),
            master.members,
            TOLD_BY[master.told_by],
            _("the top master") if master.above is None else masters[master.above].bitting.text,
        )
        for master in masters
    )
