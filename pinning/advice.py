"""What one more thing would tell best about an inherited system: a core to decode or a key to read.

The gain of a look is the expected fall of the entropy of the top master, in bits: 1 bit settles two masters
that are alike. The model: under a top master, a core of the system holds in each open position the master's
cut and one change cut, drawn as `habits` says from those seen so far (a quarter of each cut of the array to
begin with). A core of a part of the house from which cores were decoded mostly repeats their cuts, n times
as likely as not after n cores; for one of a part not seen yet each part counts once; and of parts unknown,
any cut of the array is alike. A core's own change key carries the cut that is not the master's, but for slips
(0.03). Only the 64 likeliest masters are weighed, and the most open positions: a gain is an estimate.

>>> from pinning.evidence import SeenCore
>>> from pinning.formats import load
>>> from pinning.inference import reconstruct
>>> a2 = load("small-a2-5")
>>> changes = [(3, 5, 3, 7, 5), (3, 7, 9, 5, 9), (3, 9, 5, 3, 7)]
>>> cores = [SeenCore(str(n), tuple((frozenset({1, cut}),) for cut in key)) for n, key in enumerate(changes)]
>>> best = advise(reconstruct(a2, cores))[0]
>>> best.kind, best.positions, best.gain_bits > 0.4
('key', (1,), True)
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from itertools import product
from math import log2, prod

from pinning.evidence import SLIP, CircularKey, Cuts, SeenCore, series
from pinning.habits import AT_FIRST
from pinning.inference import Reconstruction
from pinning.wording import Said, positions_said, said

__all__ = ["Advice", "OpenCore", "advise"]

SETTLED_BITS = 0.01
WORTH_BITS = 0.02
OPEN_SHARE = 0.002
MOST_MASTERS = 64
MOST_WAYS = 1_000
MOST_SAID = 10

Outcomes = dict[frozenset[int], float]
Look = Callable[[int, int], Outcomes]  # place, the master's cut there -> what may be seen among the open cuts


@dataclass(frozen=True, slots=True)
class OpenCore:
    """A core that is not decoded yet; `group` is the part of the system it is said to belong to."""

    label: str
    group: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """One look and what it is worth. `kind`: core (of the open ones), key (a decoded core's change key),
    other (a core of a part not seen yet) or any (some other core). `positions` are those it may settle.
    """

    kind: str
    label: str
    gain_bits: float
    positions: tuple[int, ...]

    @property
    def message(self) -> Said:
        return said(
            "{look}: about {bits} bits, by {positions}.",
            look=self._look,
            bits=round(Decimal(self.gain_bits), 2),
            positions=positions_said(self.positions),
        )

    @property
    def _look(self) -> Said:
        if self.kind == "core":
            return said("Decode {core}", core=self.label)
        if self.kind == "key":
            return said("Read the change key of {core}, which turns that core only", core=self.label)
        if self.kind == "other":
            return said("Decode a core from a part of the house that none of these cores comes from")
        return said("Decode any other core of the system")


def advise(found: Reconstruction, open_cores: Sequence[OpenCore] = ()) -> tuple[Advice, ...]:
    """The looks that are worth something, the best first; nothing where the top master is settled."""
    if found.entropy_bits < SETTLED_BITS:
        return ()
    weigh = _Weighing(found)
    said = [weigh.advice("other", "", weigh.stranger()), weigh.advice("any", "", weigh.core(None))]
    # Cores of one part are alike: each part is weighed once.
    groups = {each.group for each in open_cores}
    parts = {group: weigh.advice("core", "", weigh.core(group)) for group in groups}
    said += [replace(parts[each.group], label=each.label) for each in open_cores]
    keys = [weigh.advice("key", name, look) for name, look in weigh.change_keys()]
    said += [max(keys, key=lambda each: each.gain_bits)] if keys else []
    worth = [each for each in said if each.gain_bits >= WORTH_BITS]
    return tuple(sorted(worth, key=lambda each: -each.gain_bits)[:MOST_SAID])


class _Weighing:
    def __init__(self, found: Reconstruction) -> None:
        self.found = found
        heaviest = list(found.shares.items())[:MOST_MASTERS]
        total = sum(share for _, share in heaviest)
        self.masters = [(cuts, share / total) for cuts, share in heaviest]
        columns = enumerate(found.marginals)
        self.open = {
            place: frozenset(cut for cut, share in column.items() if share >= OPEN_SHARE)
            for place, column in columns
        }
        openness = {place: _entropy(found.marginals[place].values()) for place in self.open}
        ranked = sorted(openness, key=lambda place: -openness[place])
        self.places: list[int] = []
        for place in ranked:
            ways = prod(len(self.open[each]) for each in (*self.places, place))
            if openness[place] >= SETTLED_BITS and ways <= MOST_WAYS:
                self.places.append(place)

    def advice(self, kind: str, label: str, look: Look) -> Advice:
        gains = {place: self._gain(look, [place]) for place in self.places}
        most = max(gains.values(), default=0.0)
        positions = tuple(sorted(place + 1 for place, gain in gains.items() if gain >= most / 10))
        return Advice(kind, label, self._gain(look, self.places), positions)

    def _gain(self, look: Look, places: Sequence[int]) -> float:
        """Entropy now less the entropy expected after the look, over these positions."""
        seen: dict[tuple[frozenset[int], ...], Counter[Cuts]] = defaultdict(Counter)
        for cuts, share in self.masters:
            columns = [look(place, cuts[place]).items() for place in places]
            for row in product(*columns):
                chance = share
                for _, each in row:
                    chance *= each
                seen[tuple(what for what, _ in row)][cuts] += chance  # type: ignore[assignment]
        after = sum(_entropy(column.values()) for column in seen.values())
        return max(_entropy(share for _, share in self.masters) - after, 0.0)

    def core(self, group: str | None) -> Look:
        return lambda place, cut: self._pair(place, cut, self._predicted(place, cut, group))

    def stranger(self) -> Look:
        def look(place: int, cut: int) -> Outcomes:
            own = [other for other in series(self.found.format, cut) if other != cut]
            return self._pair(place, cut, dict.fromkeys(own, 1 / len(own)) if own else {})

        return look

    def change_keys(self) -> Iterator[tuple[str, Look]]:
        """The change keys of members, as far as none turns up among the keys in circulation."""
        for core in self.found.members:
            own = [key for key in self.found.keys if core.is_turned_by(key.bitting.cuts)]
            if core.change is None and all(self._turns_several(key) for key in own):
                yield core.name, partial(_change_cut, core)

    def _turns_several(self, key: CircularKey) -> bool:
        return sum(core.is_turned_by(key.bitting.cuts) for core in self.found.cores) > 1

    def _pair(self, place: int, cut: int, chances: dict[int, float]) -> Outcomes:
        """What shows of the master's cut and a change cut, among the cuts that are open there."""
        outcomes: Counter[frozenset[int]] = Counter()
        for other, chance in chances.items():
            outcomes[frozenset({cut, other}) & self.open[place]] += chance  # type: ignore[assignment]
        return dict(outcomes) or {frozenset({cut}): 1.0}

    def _predicted(self, place: int, cut: int, group: str | None) -> dict[int, float]:
        own = [other for other in series(self.found.format, cut) if other != cut]
        rows = [(core.group, core.beside(place, cut)) for core in self.found.members]
        if group is None:
            return _smoothed(own, Counter(other for _, cuts in rows for other in cuts))
        parts = {(part, other) for part, cuts in rows for other in cuts}
        base = _smoothed(own, Counter(other for _, other in parts))
        inside = Counter(other for part, cuts in rows for other in cuts if part == group)
        total = sum(inside[other] for other in own)
        return {other: (inside[other] + base[other]) / (total + 1) for other in own}


def _change_cut(core: SeenCore, place: int, cut: int) -> Outcomes:
    """What the core's change key may carry, under that cut of the master."""
    others = sorted(core.beside(place, cut))
    if not others:
        return {frozenset(): 1.0}
    outcomes = {frozenset({other}): (1 - SLIP) / len(others) for other in others}
    return outcomes | {frozenset({cut}): SLIP}


def _smoothed(own: Sequence[int], counts: Counter[int]) -> dict[int, float]:
    total = sum(counts[other] for other in own) + AT_FIRST * len(own)
    return {other: (counts[other] + AT_FIRST) / total for other in own}


def _entropy(chances: Iterable[float]) -> float:
    """Of chances that need not add up to 1: of all they add up to, weighed by it."""
    held = [chance for chance in chances if chance > 0]
    total = sum(held)
    return sum(chance * log2(total / chance) for chance in held)
