"""What differs between two pictures of a system: keys, keyings, and the doors that each key opens."""

import re
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from keyctl.lib.tags import grouped
from keyctl.versions.picture import OPERATES, Key, Picture, PicturedCore

DIGITS = re.compile("([0-9]+)")


@dataclass(frozen=True, slots=True)
class KeyChange:
    """One key before and after; None where it was not there."""

    symbol: str
    before: Key | None
    after: Key | None


@dataclass(frozen=True, slots=True)
class KeyingChange:
    tag: str
    place: str
    gone: tuple[str, ...]
    new: tuple[str, ...]

    def __str__(self) -> str:
        """The core, as its tag is read."""
        return grouped(self.tag)


@dataclass(frozen=True, slots=True)
class DoorChange:
    """The doors that a key opens now and did not, and the other way round, as people call them."""

    symbol: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]


@dataclass
class Difference:
    added: list[KeyChange] = field(default_factory=list)
    gone: list[KeyChange] = field(default_factory=list)
    moved: list[KeyChange] = field(default_factory=list)
    cut_anew: list[KeyChange] = field(default_factory=list)
    keyings: list[KeyingChange] = field(default_factory=list)
    doors: list[DoorChange] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not any((self.added, self.gone, self.moved, self.cut_anew, self.keyings, self.doors))


def compare(before: Picture, after: Picture, sites: Collection[str]) -> Difference:
    """Keys are the same key if they bear the same symbol. Cores count where they stood at one of ``sites``
    (identifiers), in each picture by itself: a reader sees nothing of cores elsewhere."""
    found = Difference()
    for symbol in sorted(before.keys.keys() | after.keys.keys(), key=_natural):
        _compare_key(found, KeyChange(symbol, before.keys.get(symbol), after.keys.get(symbol)))
    old = {tag: core for tag, core in before.cores.items() if core.site in sites}
    new = {tag: core for tag, core in after.cores.items() if core.site in sites}
    found.keyings = _keyings(old, new)
    found.doors = _doors(_opened(old), _opened(new), _names(old) | _names(new))
    return found


def _compare_key(found: Difference, change: KeyChange) -> None:
    before, after = change.before, change.after
    if before is None:
        found.added.append(change)
    elif after is None:
        found.gone.append(change)
    else:
        if (before.parent, before.level, before.kind) != (after.parent, after.level, after.kind):
            found.moved.append(change)
        if before.digest != after.digest:
            found.cut_anew.append(change)


def _keyings(old: dict[str, PicturedCore], new: dict[str, PicturedCore]) -> list[KeyingChange]:
    changes = []
    for tag in sorted(old.keys() | new.keys()):
        was, is_now = _keyed(old.get(tag)), _keyed(new.get(tag))
        if was != is_now:
            core = new.get(tag) or old[tag]
            changes.append(KeyingChange(tag, core.place, _listed(was - is_now), _listed(is_now - was)))
    return changes


def _keyed(core: PicturedCore | None) -> frozenset[str]:
    return core.keyed_to if core else frozenset()


def _opened(cores: dict[str, PicturedCore]) -> dict[str, set[str]]:
    """Symbol -> identifiers of the doors with a core that the key turns."""
    opened: dict[str, set[str]] = defaultdict(set)
    for core in cores.values():
        if core.door:
            for symbol, effect in core.turns.items():
                if effect & OPERATES:
                    opened[symbol].add(core.door)
    return opened


def _names(cores: dict[str, PicturedCore]) -> dict[str, str]:
    return {core.door: core.place for core in cores.values() if core.door}


def _doors(old: dict[str, set[str]], new: dict[str, set[str]], names: dict[str, str]) -> list[DoorChange]:
    changes = []
    for symbol in sorted(old.keys() | new.keys(), key=_natural):
        was, is_now = old.get(symbol, set()), new.get(symbol, set())
        if was != is_now:
            gained, lost = (_listed(names[door] for door in doors) for doors in (is_now - was, was - is_now))
            changes.append(DoorChange(symbol, gained, lost))
    return changes


def _listed(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(names, key=_natural))


def _natural(name: str) -> tuple[int | str, ...]:
    """AA2 before AA10: digits compare as numbers.

    >>> sorted(["AA10", "AA2", "A"], key=_natural)
    ['A', 'AA2', 'AA10']
    """
    return tuple(int(part) if place % 2 else part for place, part in enumerate(DIGITS.split(name)))
