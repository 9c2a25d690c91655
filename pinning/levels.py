"""The levels of an inherited system: which positions vary at which level, and the masters between.

Pins alone hardly show levels: a core of a progressed system holds the top master's cut and its change key's
in every position, whatever masters lie between, for these carry one or the other. Levels show in three
things, the surest first: a key in circulation that turns several cores is a master, and fixes the positions
in which it differs from the top one; cores said to belong to one part of the house share the cuts of its
level; and where many cores were decoded, the tree of positions that takes the fewest bits to write down
(minimum description length) shows which positions belong together, if it takes a twelfth less than no tree.
What only the last says is a guess.

>>> from pinning.evidence import SeenCore
>>> from pinning.formats import load
>>> from pinning.inference import reconstruct
>>> a2 = load("small-a2-5")
>>> changes = {"north 1": (3, 5, 3, 7, 5), "north 2": (3, 5, 9, 5, 9), "south 1": (7, 9, 3, 3, 7)}
>>> cores = [
...     SeenCore(name, tuple((frozenset({1, cut}),) for cut in key), group=name[:5])
...     for name, key in changes.items()
... ]
>>> found = find_levels(reconstruct(a2, cores))
>>> [(level.positions, level.told_by) for level in found.levels]
[((1, 2), 'group'), ((3, 4, 5), 'group')]
>>> [(master.bitting.text, master.members) for master in found.masters]
[('35111', ('north 1', 'north 2'))]
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import log2

from pinning.bittings import Bitting, bitting_of
from pinning.evidence import Cuts, SeenCore
from pinning.inference import Reconstruction

__all__ = ["Level", "Levels", "LikelyMaster", "find_levels"]

MOST_POSITIONS = 8  # of which orders are compared; more would take long
FEWEST_CORES = 8  # from which pins alone are asked for levels


@dataclass(frozen=True, slots=True)
class Level:
    """Positions that keys of one level fix; `told_by` is key, group or pins."""

    positions: tuple[int, ...]
    told_by: str


@dataclass(frozen=True, slots=True)
class LikelyMaster:
    """A master below the top one. `positions` are those it fixes; `above` is its place in the list of the
    nearest master over it, None right below the top.
    """

    bitting: Bitting = field(repr=False)
    positions: tuple[int, ...]
    members: tuple[str, ...]
    told_by: str
    name: str = ""
    above: int | None = None


@dataclass(frozen=True, slots=True)
class Levels:
    """`shared` are the positions with one cut only, the top master's; `alike` those that hold the same two
    cuts in every core, so that they may belong to any level.
    """

    shared: tuple[int, ...]
    alike: tuple[int, ...]
    levels: tuple[Level, ...]
    masters: tuple[LikelyMaster, ...]


def find_levels(found: Reconstruction) -> Levels:
    """What the members of a reconstruction show of its levels, under the likeliest master."""
    cores = [core for core in found.members if not core.misses(found.best)]
    beside = {core.name: [core.beside(place, cut) for place, cut in enumerate(found.best)] for core in cores}
    columns = list(zip(*beside.values(), strict=True)) if beside else []
    places = range(len(columns))
    shared = tuple(place + 1 for place in places if not any(columns[place]))
    varying = tuple(place + 1 for place in places if len(set(columns[place])) > 1)
    alike = tuple(place + 1 for place in places if place + 1 not in (*shared, *varying))
    masters = [*_by_keys(found, cores), *_by_groups(found, cores, varying)]
    levels = _levels([(m.positions, m.told_by) for m in masters], varying)
    if not levels and len(cores) >= FEWEST_CORES and len(varying) <= MOST_POSITIONS:
        chain = _shortest(varying, columns)
        levels = [Level(group, "pins") for group in chain] if len(chain) > 1 else []
        masters = list(_by_pins(found, cores, chain))
    if not levels and varying:
        levels = [Level(varying, "pins")]
    return Levels(shared, alike, tuple(levels), _with_above(_once(masters)))


def _by_keys(found: Reconstruction, cores: Sequence[SeenCore]) -> Iterator[LikelyMaster]:
    for key in found.keys:
        cuts = key.bitting.cuts
        turned = tuple(core.name for core in cores if core.is_turned_by(cuts))
        if len(turned) > 1 and cuts != found.best:
            yield LikelyMaster(key.bitting, _apart(cuts, found.best), turned, "key", key.name)


def _by_groups(
    found: Reconstruction, cores: Sequence[SeenCore], varying: Sequence[int]
) -> Iterator[LikelyMaster]:
    groups: dict[str, list[SeenCore]] = defaultdict(list)
    for core in cores:
        if core.group is not None:
            groups[core.group].append(core)
    for name, members in groups.items():
        if 1 < len(members) < len(cores):
            yield from _sharing(found, members, varying, "group", name)


def _by_pins(
    found: Reconstruction, cores: Sequence[SeenCore], chain: Sequence[tuple[int, ...]]
) -> Iterator[LikelyMaster]:
    for depth in range(1, len(chain)):
        fixed = [position for group in chain[:depth] for position in group]
        clusters: dict[tuple[frozenset[int], ...], list[SeenCore]] = defaultdict(list)
        for core in cores:
            clusters[tuple(core.beside(p - 1, found.best[p - 1]) for p in fixed)].append(core)
        for members in clusters.values():
            if len(members) > 1:
                yield from _sharing(found, members, fixed, "pins", "")


def _sharing(
    found: Reconstruction, members: Sequence[SeenCore], positions: Sequence[int], told_by: str, name: str
) -> Iterator[LikelyMaster]:
    """The master that fixes the positions in which all these cores hold the same one cut beside the top's."""
    cuts = list(found.best)
    for position in positions:
        shared = {core.beside(position - 1, found.best[position - 1]) for core in members}
        if len(shared) == 1 and len(only := next(iter(shared))) == 1:
            cuts[position - 1] = next(iter(only))
    if fixed := _apart(cuts, found.best):
        names = tuple(core.name for core in members)
        yield LikelyMaster(bitting_of(found.format, cuts), fixed, names, told_by, name)


def _apart(cuts: Sequence[int], top: Cuts) -> tuple[int, ...]:
    return tuple(place + 1 for place, (cut, own) in enumerate(zip(cuts, top, strict=True)) if cut != own)


def _levels(told: Sequence[tuple[tuple[int, ...], str]], varying: Sequence[int]) -> list[Level]:
    """From the positions that masters fix, fewest first, to what each level adds; changes fix the rest."""
    levels: list[Level] = []
    done: set[int] = set()
    for positions, told_by in sorted(told, key=lambda each: len(each[0])):
        added = tuple(sorted((set(positions) & set(varying)) - done))
        if added:
            levels.append(Level(added, told_by))
            done |= set(added)
    rest = tuple(position for position in varying if position not in done)
    return [*levels, Level(rest, levels[-1].told_by)] if levels and rest else levels


def _shortest(
    varying: tuple[int, ...], columns: Sequence[tuple[frozenset[int], ...]]
) -> list[tuple[int, ...]]:
    """The chain of position groups by which the cores' change cuts are written down shortest.

    A node of a level costs the bits of its cuts and of the name of the node above it.
    """
    bits = {position: log2(len(set(columns[position - 1]))) for position in varying}
    whole = (1 << len(varying)) - 1
    nodes = [_nodes(mask, varying, columns) for mask in range(whole + 1)]
    sizes = [sum(bits[p] for n, p in enumerate(varying) if mask >> n & 1) for mask in range(whole + 1)]
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())]
    for mask in range(1, whole + 1):
        options = []
        above = (mask - 1) & mask
        while True:
            cost = nodes[mask] * (sizes[mask] - sizes[above] + log2(nodes[above]))
            options.append((best[above][0] + cost, (*best[above][1], mask)))
            if above == 0:
                break
            above = (above - 1) & mask
        best.append(min(options, key=lambda each: (round(each[0], 9), len(each[1]))))
    if best[whole][0] * 12 > nodes[whole] * sizes[whole] * 11:
        return [varying]
    steps = zip((0, *best[whole][1]), best[whole][1], strict=False)
    return [tuple(p for n, p in enumerate(varying) if (mask & ~above) >> n & 1) for above, mask in steps]


def _nodes(mask: int, varying: Sequence[int], columns: Sequence[tuple[frozenset[int], ...]]) -> int:
    """How many different cores there are in these positions; one where no position is looked at."""
    chosen = [columns[position - 1] for n, position in enumerate(varying) if mask >> n & 1]
    return len(set(zip(*chosen, strict=True))) if chosen else 1


def _once(masters: Sequence[LikelyMaster]) -> list[LikelyMaster]:
    """Each bitting once, by the surest evidence, those that fix the fewest positions first."""
    first: dict[Cuts, LikelyMaster] = {}
    for master in masters:
        first.setdefault(master.bitting.cuts, master)
    return sorted(first.values(), key=lambda master: (len(master.positions), master.bitting.cuts))


def _with_above(masters: Sequence[LikelyMaster]) -> tuple[LikelyMaster, ...]:
    return tuple(replace(master, above=_above(master, masters)) for master in masters)


def _above(master: LikelyMaster, masters: Sequence[LikelyMaster]) -> int | None:
    own = master.bitting.cuts
    over = [
        (len(other.positions), place)
        for place, other in enumerate(masters)
        if set(other.positions) < set(master.positions)
        and all(other.bitting.cuts[position - 1] == own[position - 1] for position in other.positions)
    ]
    return max(over)[1] if over else None
