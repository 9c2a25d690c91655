"""The next free change: a bitting below a master that nothing turns it must not, and that turns nothing.

A candidate is free if no key has it, if it turns and withdraws none of the cores there are and none of those
that keys already made are meant for, and if a core pinned for it and the masters above it turns for no key
but these and the control key withdraws it alone. Among the free ones a policy chooses: `sequence` the first
in order; `distance` the one whose nearest key is furthest, by the number of positions that differ and then
by depths in sum; `incidental` the one whose core would newly accept the fewest bittings that are no key.
Ties go to the first in order. All counts are exact.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.progression import progress
>>> a2 = load("small-a2-6")
>>> master = parse_bitting(a2, "143254")
>>> keys = progress(a2, master, sequence=[6, 5])
>>> used = [keys[0], keys[1]]
>>> surroundings = Surroundings(a2, [master], parse_bitting(a2, "016565"), [*used, master])
>>> found = choose(surroundings, keys.usable(), "distance")
>>> found.bitting.text, found.nearest, found.incidental
('143298', (2, 14), 2)
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from math import prod
from typing import TYPE_CHECKING

from pinning.abiding import keeps
from pinning.audit import KeyIndex
from pinning.bittings import Bitting
from pinning.budget import Budget
from pinning.columns import Pinning
from pinning.errors import Refusal, Refused
from pinning.formats import CoreFormat
from pinning.rules import Rules
from pinning.shear import operating_cuts, withdrawing_cuts
from pinning.stacks import pin
from pinning.wording import Said, counted, said

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["POLICIES", "Box", "Choice", "Surroundings", "choose"]

POLICIES = ("sequence", "distance", "incidental")
FAULTS = ("used", "turns", "turned", "unbuildable")
# A step is a candidate against all keys and cores, or one bitting that a core would accept.
LARGEST_CHOICE = 1_000_000
REMEDY = said("Take the next in sequence, or extend below a master with fewer keys to choose from.")
Box = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """A free bitting. `nearest` is (positions, depths in sum) to the nearest key, None without keys;
    `incidental` how many bittings its core would newly accept that are no key; `order` its place among the
    candidates.
    """

    bitting: Bitting = field(repr=False)
    nearest: tuple[int, int] | None
    incidental: int
    order: int


class Surroundings:
    """The keys and cores that a new change must get along with.

    `above` are the masters that shall turn its core. `keys` are all operating keys that enter it, the masters
    among them; `cores` and `sleeves` the boxes (per position the cuts that clear the operating and the
    control line) of the cores it enters; `planned` the operating keys of each core that keys already made are
    meant for.
    """

    def __init__(
        self,
        format: CoreFormat,
        above: Sequence[Bitting],
        control: Bitting | None,
        keys: Iterable[Bitting],
        *,
        cores: Iterable[Box] = (),
        sleeves: Iterable[Box] = (),
        planned: Iterable[Sequence[Bitting]] = (),
    ) -> None:
        self.format, self.above, self.control = format, list(above), control
        known = {key.cuts: key for key in (*keys, *above)}
        self._masters = {master.cuts for master in above}
        self._index: KeyIndex[tuple[int, ...]] = KeyIndex(known)
        self._known = set(known) | ({control.cuts} if control else set())
        self._meant = sum(1 << place for place, cuts in enumerate(known) if cuts in self._masters)
        there = {box for box in cores if all(box)}
        meant = {box for keyed in planned for box in _boxes(format, keyed, control)}
        self._fresh: list[tuple[Bitting, Pinning]] = []
        self._there = _by_cut(there, format.positions)
        self._forbidden = _by_cut(there | {box for box in sleeves if all(box)} | meant, format.positions)

    def fault(self, candidate: Bitting) -> str | None:
        """Why the candidate is not free, as `_told` says in words; None if it is."""
        if candidate.cuts in self._known:
            return "used"
        if _holders(self._forbidden, candidate.cuts) or self._does_something_to_fresh(candidate):
            return "turns"
        try:
            core = self.core_for(candidate)
        except Refused:
            return "unbuildable"
        return "turned" if self._is_turned(core) else None

    def take(self, chosen: Bitting) -> None:
        """From now on the bitting is a key and its core is there."""
        self._fresh.append((chosen, self.core_for(chosen)))
        self._known.add(chosen.cuts)
        self.__dict__.pop("_others", None)

    def _does_something_to_fresh(self, candidate: Bitting) -> bool:
        return any(
            _is_in(candidate.cuts, operating_cuts(core)) or _is_in(candidate.cuts, withdrawing_cuts(core))
            for _, core in self._fresh
        )

    def core_for(self, candidate: Bitting) -> Pinning:
        """The core pinned for the candidate and the masters above it; raises `Refused` if it cannot be."""
        texts = dict.fromkeys([candidate.text, *(master.text for master in self.above)])
        return pin(self.format, list(texts), self.control.text if self.control else None)

    def _is_turned(self, core: Pinning) -> bool:
        """Whether a key does something to the core that it is not meant to do."""
        operating, withdrawing = operating_cuts(core), withdrawing_cuts(core)
        if self._index.matching(operating) & ~self._meant or self._index.matching(withdrawing):
            return True
        if any(_is_in(key.cuts, operating) or _is_in(key.cuts, withdrawing) for key, _ in self._fresh):
            return True
        return self.control is not None and _is_in(self.control.cuts, operating)

    @cached_property
    def _others(self) -> "NDArray[np.int16]":
        """The keys that are no master of the new one, a row each."""
        import numpy as np

        rows = [cuts for cuts in self._index.ids if cuts not in self._masters]
        rows += [key.cuts for key, _ in self._fresh]
        return np.array(rows, dtype=np.int16).reshape(len(rows), self.format.positions)

    def nearest(self, candidate: Bitting) -> tuple[int, int] | None:
        """(positions that differ, depths in sum) to the nearest key that is no master of its own."""
        import numpy as np

        if not len(self._others):
            return None
        apart = np.abs(self._others - np.array(candidate.cuts, dtype=np.int16)).astype(np.int64)
        depths = apart.sum(axis=1)
        scale = int(depths.max()) + 1
        return divmod(int((np.count_nonzero(apart, axis=1) * scale + depths).min()), scale)

    def newly_accepted(self, candidate: Bitting, budget: Budget) -> int:
        """Bittings within the adjacent-cut limit that its core accepts, no core did before, and no key is."""
        box = operating_cuts(self.core_for(candidate))
        budget.spend(prod(map(len, box)))
        limit = Rules(macs=self.format.macs)
        known = self._known | {candidate.cuts}
        fresh = [operating_cuts(core) for _, core in self._fresh]
        return sum(
            cuts not in known
            and keeps(limit, cuts)
            and not _holders(self._there, cuts)
            and not any(_is_in(cuts, other) for other in fresh)
            for cuts in product(*box)
        )


def choose(surroundings: Surroundings, candidates: Iterable[Bitting], policy: str) -> Choice:
    """The free candidate that the policy prefers.

    Raises `Refused`: `no_change_left`, with what became of the candidates, and `too_large` past the bound on
    work.
    """
    budget = Budget(LARGEST_CHOICE, said("The choice of the next change"), REMEDY)
    faults: Counter[str] = Counter()
    best: tuple[tuple[int, ...], int, Bitting] | None = None
    for order, candidate in enumerate(candidates):
        budget.spend(1)
        if fault := surroundings.fault(candidate):
            faults[fault] += 1
            continue
        rank = _rank(surroundings, candidate, policy, budget)
        if best is None or rank < best[0]:
            best = rank, order, candidate
        if policy == "sequence":
            break
    if best is None:
        raise Refused([Refusal("no_change_left", _explained(faults))])
    _, order, chosen = best
    return Choice(chosen, surroundings.nearest(chosen), surroundings.newly_accepted(chosen, budget), order)


def _rank(surroundings: Surroundings, candidate: Bitting, policy: str, budget: Budget) -> tuple[int, ...]:
    """Small is good."""
    if policy == "distance":
        positions, depths = surroundings.nearest(candidate) or (0, 0)
        return -positions, -depths
    return (surroundings.newly_accepted(candidate, budget),) if policy == "incidental" else ()


def _explained(faults: Mapping[str, int]) -> Said:
    total = sum(faults.values())
    if not total:
        return said("Nothing can stand below this key; no position is left for a level below it.")
    parts = tuple(_told(reason, faults[reason]) for reason in FAULTS if faults[reason])
    return said("Nothing is left below this key. Of {total} bittings {parts}.", total=total, parts=parts)


def _told(reason: str, number: int) -> Said:
    if reason == "used":
        return counted("{number} already is a key's", "{number} already are a key's", number)
    if reason == "turns":
        return counted(
            "{number} would turn or take out a core that it must not",
            "{number} would turn or take out a core that they must not",
            number,
        )
    if reason == "turned":
        return counted(
            "{number} would have a core that some other key turns or takes out",
            "{number} would have a core that some other key turns or takes out",
            number,
        )
    return counted(
        "{number} would have a core that cannot be pinned",
        "{number} would have a core that cannot be pinned",
        number,
    )


def _is_in(cuts: Sequence[int], box: Box) -> bool:
    return all(cut in column for cut, column in zip(cuts, box, strict=True))


def _boxes(format: CoreFormat, keyed: Sequence[Bitting], control: Bitting | None) -> Iterator[Box]:
    """What a core pinned for these keys would accept at each line.

    At the control line the breaks of the operating cuts stand as much deeper as the line is higher, and there
    is the one meant for the control key.
    """
    operating = tuple(tuple(sorted(set(column))) for column in zip(*(key.cuts for key in keyed), strict=True))
    yield operating
    if control is not None:
        yield tuple(
            tuple(sorted({own, *(cut - format.addition for cut in column)}))
            if position in format.sleeve
            else column
            for position, (own, column) in enumerate(zip(control.cuts, operating, strict=True), 1)
        )


def _by_cut(boxes: Iterable[Box], positions: int) -> list[dict[int, int]]:
    """Per position and cut, one bit per box that holds the cut there."""
    ordered = sorted(boxes)
    found: list[dict[int, bytearray]] = [{} for _ in range(positions)]
    for number, box in enumerate(ordered):
        for holders, column in zip(found, box, strict=True):
            for cut in column:
                bits = holders.setdefault(cut, bytearray(len(ordered) // 8 + 1))
                bits[number >> 3] |= 1 << (number & 7)
    return [{cut: int.from_bytes(bits, "little") for cut, bits in holders.items()} for holders in found]


def _holders(by_cut: Sequence[Mapping[int, int]], cuts: Sequence[int]) -> int:
    """One bit per box that holds the bitting."""
    held = -1
    for holders, cut in zip(by_cut, cuts, strict=True):
        held &= holders.get(cut, 0)
    return held
