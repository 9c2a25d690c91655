"""An estate of several formats and keyways: what a key does not enter, it is not tried on.

A blank has a keyway and so has a core; `enters` says which blank enters which core. By default each enters
only its own. A core whose pins change is tried again alone against all keys, a new key alone on all cores.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> a2 = load("small-a2-6")
>>> own = parse_bitting(a2, "361492")
>>> keys = [EstateKey("o", a2, "U", own), EstateKey("p", a2, "V", own)]
>>> estate = Estate(keys, [EstateCore("door", "V", pin(a2, ["361492"], "743810"))])
>>> [(estate.key_ids[key], estate.core_ids[core]) for key, core in estate.audit().operates.listed()]
[('p', 'door')]
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from pinning.bittings import Bitting
from pinning.columns import Pinning
from pinning.errors import Refusal, Refused
from pinning.figures import CoreFormat
from pinning.joins import MOST_PAIRS, Pairs
from pinning.runs import Ints
from pinning.sides import Audit, CoreSide, KeySide, audit

__all__ = ["Estate", "EstateCore", "EstateKey"]

KeyId = TypeVar("KeyId", bound=Hashable)
CoreId = TypeVar("CoreId", bound=Hashable)
Enters = Callable[[str, str], bool]
Family = tuple[str, str]
"""A format's id and a keyway."""


@dataclass(frozen=True, slots=True)
class EstateKey(Generic[KeyId]):
    """A key; `keyway` is its blank's."""

    id: KeyId
    format: CoreFormat
    keyway: str
    bitting: Bitting


@dataclass(frozen=True, slots=True)
class EstateCore(Generic[CoreId]):
    """A pinned core."""

    id: CoreId
    keyway: str
    pinning: Pinning


def _same(blank: str, core: str) -> bool:
    return blank == core


class Estate(Generic[KeyId, CoreId]):
    """`key_ids` and `core_ids` are in the order given; all answers are places in them."""

    def __init__(
        self,
        keys: Iterable[EstateKey[KeyId]],
        cores: Iterable[EstateCore[CoreId]],
        enters: Enters = _same,
    ) -> None:
        given, placed = list(keys), list(cores)
        self.key_ids, self.core_ids = [key.id for key in given], [core.id for core in placed]
        self._enters = enters
        self._family_of = [(core.pinning.format.id, core.keyway) for core in placed]
        grouped = _grouped(self._family_of)
        self._place_of = {at: place for members in grouped.values() for place, at in enumerate(members)}
        self._keys = {
            family: KeySide(given[members[0]].format, {at: given[at].bitting for at in members})
            for family, members in _grouped((key.format.id, key.keyway) for key in given).items()
        }
        self._cores = {
            family: CoreSide(placed[members[0]].pinning.format, {at: placed[at].pinning for at in members})
            for family, members in grouped.items()
        }

    def audit(self, most: int = MOST_PAIRS) -> Audit:
        """Every pair at both lines. Raises `Refused` (code `too_large`) past `most` pairs at a line."""
        operating, withdrawing = _Gathered(most), _Gathered(most)
        for family, cores in self._cores.items():
            for keys in self._entering(family):
                found = audit(keys, cores, most)
                operating.add(keys, cores, found.operates)
                withdrawing.add(keys, cores, found.withdraws)
        return Audit(operating.pairs(len(self.core_ids)), withdrawing.pairs(len(self.core_ids)))

    def change_core(self, core: int, pinning: Pinning) -> tuple[Ints, Ints]:
        """The core has other pins now: which keys operate it, and which withdraw it."""
        family = self._family_of[core]
        self._cores[family].change(self._place_of[core], pinning)
        found = [(keys, keys.turning(pinning)) for keys in self._entering(family)]
        operating = [_named(keys.ids, places) for keys, (places, _) in found]
        withdrawing = [_named(keys.ids, places) for keys, (_, places) in found]
        return _merged(operating), _merged(withdrawing)

    def turned_by(self, key: EstateKey[KeyId]) -> tuple[Ints, Ints]:
        """Which cores one key operates, and which it withdraws; the key need not belong to the estate."""
        operated, withdrawn = [], []
        for (format, keyway), cores in self._cores.items():
            if format == key.format.id and self._enters(key.keyway, keyway):
                here, out = cores.turned_by(key.bitting)
                operated.append(_named(cores.ids, here))
                withdrawn.append(_named(cores.ids, out))
        return _merged(operated), _merged(withdrawn)

    def _entering(self, family: Family) -> list[KeySide[int]]:
        format, keyway = family
        return [
            keys for (own, blank), keys in self._keys.items() if own == format and self._enters(blank, keyway)
        ]


class _Gathered:
    """Pairs of several families, numbered through."""

    def __init__(self, most: int) -> None:
        self.keys: list[Ints] = []
        self.cores: list[Ints] = []
        self.left = most

    def add(self, keys: KeySide[int], cores: CoreSide[int], found: Pairs) -> None:
        self.left -= len(found)
        if self.left < 0:
            raise Refused(
                [Refusal("too_large", "Too many pairs of key and core fit; audit fewer at a time.")]
            )
        self.keys.append(_named(keys.ids, found.keys))
        self.cores.append(_named(cores.ids, found.cores))

    def pairs(self, cores: int) -> Pairs:
        found = Pairs(_joined(self.keys), _joined(self.cores), np.zeros(0, np.int32))
        return found.by_key().by_core(cores)


def _grouped(families: Iterable[Family]) -> dict[Family, list[int]]:
    groups: dict[Family, list[int]] = defaultdict(list)
    for place, family in enumerate(families):
        groups[family].append(place)
    return groups


def _named(ids: list[int], places: Ints) -> Ints:
    return np.array(ids, np.int32)[places]


def _joined(parts: list[Ints]) -> Ints:
    return np.concatenate([np.zeros(0, np.int32), *parts])


def _merged(parts: list[Ints]) -> Ints:
    return np.sort(_joined(parts))
