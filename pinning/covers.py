"""Keys that between them open given doors: the question made small without changing its answer.

The keys must open the needed doors between them, and should open few extra ones. Four steps, none of which
loses the best answer for any number of keys: only keys that open a needed door count; extra doors that the
same keys open are one group with a weight; a key goes when another opens at least its needed doors and at
most its extra ones (of two alike the first stays); a needed door goes when every key of some other needed
door opens it too.

>>> cover = reduce_cover({"M": "abx", "A": "a", "B": "by", "C": "bxy"}, "ab")
>>> cover.keys, cover.weights
(('M', 'A', 'B'), (1, 1))
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pinning.budget import Budget
from pinning.errors import Refusal, Refused
from pinning.wording import said

__all__ = ["MOST_STEPS", "Cover", "bits_of", "narrow_cover", "reduce_cover"]

MOST_STEPS = 20_000_000
CHOOSING = said("Choosing among these keys")
REMEDY = said("Ask for fewer doors, or leave out keys that nobody would hand out.")
MOST_NAMED = 10

Key = TypeVar("Key")
Door = TypeVar("Door")


@dataclass(frozen=True, slots=True)
class Cover(Generic[Key]):
    """What is left to choose from. Sets are whole numbers, bit n standing for needed door or group n.

    `covers[k]` are the needed doors of key k, `adds[k]` its groups of extra doors, `openers[d]` the keys of
    needed door d by place, and `weights[g]` how many extra doors are in group g.
    """

    keys: tuple[Key, ...]
    covers: tuple[int, ...]
    adds: tuple[int, ...]
    openers: tuple[tuple[int, ...], ...]
    weights: tuple[int, ...]

    def weight(self, groups: int) -> int:
        """How many extra doors the groups hold."""
        return sum(self.weights[group] for group in bits_of(groups))

    def extra_doors(self, chosen: Collection[int]) -> int:
        """How many extra doors these keys open between them."""
        added = 0
        for key in chosen:
            added |= self.adds[key]
        return self.weight(added)


def bits_of(number: int) -> Iterator[int]:
    """The places of the bits, lowest first.

    >>> list(bits_of(0b1101))
    [0, 2, 3]
    """
    while number:
        low = number & -number
        yield low.bit_length() - 1
        number ^= low


def reduce_cover(
    opens: Mapping[Key, Collection[Door]],
    needed: Collection[Door],
    more: Mapping[Key, int] | None = None,
) -> Cover[Key]:
    """The reduced question. Raises `Refused`: `no_key` for a needed door that no key opens, `too_large`.

    `more` says of some keys how many doors they open that `opens` does not list; they count as doors that
    no other key opens.
    """
    budget = Budget(MOST_STEPS, CHOOSING, REMEDY)
    place = {door: number for number, door in enumerate(dict.fromkeys(needed))}
    names, covers = _candidates(opens, place)
    _refuse_closed(covers, place)
    unlisted = {} if more is None else more
    adds = _groups([opens[name] for name in names], place, [unlisted.get(name, 0) for name in names])[0]
    left, doors = _reduced(covers, adds, (1 << len(place)) - 1, budget)
    chosen = [names[key] for key in left]
    groups = _groups([opens[name] for name in chosen], place, [unlisted.get(name, 0) for name in chosen])
    return _cover(chosen, [covers[key] & doors for key in left], doors, *groups)


def narrow_cover(cover: Cover[Any], held: Collection[int], barred: Collection[int]) -> Cover[int] | None:
    """What is left to choose once the keys `held` are taken and those `barred` are not; its keys are places
    in `cover`. None where a needed door has no key left.

    What the held keys open costs nothing more, so that many keys now do what others do; and with the wide
    keys settled most groups of extra doors are told apart by no key any more.

    >>> cover = reduce_cover({"M": "abxyz", "A": "au", "B": "bvw", "C": "buv"}, "ab")
    >>> narrow_cover(cover, [1], [0]).keys, narrow_cover(cover, [], [0, 1])
    ((3,), None)
    """
    opened = added = 0
    for key in held:
        opened, added = opened | cover.covers[key], added | cover.adds[key]
    doors = ((1 << len(cover.openers)) - 1) & ~opened
    out = {*held, *barred}
    free = [key for key, opens in enumerate(cover.covers) if key not in out and opens & doors]
    if any(all(key in out for key in cover.openers[door]) for door in bits_of(doors)):
        return None
    covers, adds = [cover.covers[key] & doors for key in free], [cover.adds[key] & ~added for key in free]
    left, doors = _reduced(covers, adds, doors, Budget(MOST_STEPS, CHOOSING, REMEDY))
    groups = _merged([adds[key] for key in left], cover.weights)
    return _cover([free[key] for key in left], [covers[key] & doors for key in left], doors, *groups)


def _reduced(covers: list[int], adds: list[int], doors: int, budget: Budget) -> tuple[list[int], int]:
    """(the keys that are left, the needed doors that bind)."""
    left = list(range(len(covers)))
    while True:
        binding = _binding_doors(left, covers, doors, budget)
        kept = _undominated(left, [cover & binding for cover in covers], adds, budget)
        if (binding, len(kept)) == (doors, len(left)):
            return left, doors
        left, doors = kept, binding


def _merged(adds: list[int], weights: Sequence[int]) -> tuple[list[int], list[int]]:
    """Groups that the same keys open, as one."""
    openers: dict[int, int] = defaultdict(int)
    for key, groups in enumerate(adds):
        for group in bits_of(groups):
            openers[group] |= 1 << key
    counted = Counter[int]()
    for group, keys in openers.items():
        counted[keys] += weights[group]
    return _told_apart(counted, len(adds))


def _cover(
    names: list[Key], covers: list[int], doors: int, adds: list[int], weights: list[int]
) -> Cover[Key]:
    openers = _openers(range(len(names)), covers)
    rank = {door: number for number, door in enumerate(bits_of(doors))}
    renamed = tuple(sum(1 << rank[door] for door in bits_of(cover)) for cover in covers)
    listed = tuple(tuple(bits_of(openers[door])) for door in rank)
    return Cover(tuple(names), renamed, tuple(adds), listed, tuple(weights))


def _candidates(
    opens: Mapping[Key, Collection[Door]], place: Mapping[Door, int]
) -> tuple[list[Key], list[int]]:
    wanted = frozenset(place)
    names = [name for name, doors in opens.items() if not wanted.isdisjoint(doors)]
    return names, [sum(1 << place[door] for door in wanted.intersection(opens[name])) for name in names]


def _refuse_closed(covers: list[int], place: Mapping[Door, int]) -> None:
    opened = 0
    for cover in covers:
        opened |= cover
    closed = [door for door, number in place.items() if not opened >> number & 1]
    if closed:
        reasons = [
            said(
                "Door {door} is needed, and no key opens it. Leave it out, or give a key that opens it.",
                door=repr(str(door)[:100]),
            )
            for door in closed[:MOST_NAMED]
        ]
        if len(closed) > MOST_NAMED:
            left = len(closed) - MOST_NAMED
            reasons.append(said("{left} more needed doors have no key; leave them out.", left=left))
        raise Refused([Refusal("no_key", reason) for reason in reasons])


def _groups(
    opened: list[Collection[Door]], place: Mapping[Door, int], unlisted: list[int]
) -> tuple[list[int], list[int]]:
    """(per key its groups of extra doors, per group how many doors), doors being alike by their keys."""
    openers: dict[Door, int] = defaultdict(int)
    for key, doors in enumerate(opened):
        bit = 1 << key
        for door in frozenset(doors):
            if door not in place:
                openers[door] |= bit
    counted = Counter(openers.values())
    for key, number in enumerate(unlisted):
        if number:
            counted[1 << key] += number
    return _told_apart(counted, len(opened))


def _told_apart(counted: Counter[int], number: int) -> tuple[list[int], list[int]]:
    """(per key its groups, per group how many doors), from the doors counted by their keys."""
    adds = [0] * number
    for group, keys in enumerate(sorted(counted)):
        for key in bits_of(keys):
            adds[key] |= 1 << group
    return adds, [counted[keys] for keys in sorted(counted)]


def _openers(keys: Collection[int], covers: list[int]) -> dict[int, int]:
    """Per needed door the keys that open it, as bits."""
    openers: dict[int, int] = defaultdict(int)
    for key in keys:
        for door in bits_of(covers[key]):
            openers[door] |= 1 << key
    return openers


def _binding_doors(left: list[int], covers: list[int], doors: int, budget: Budget) -> int:
    """The needed doors that do not come by themselves with another."""
    openers = _openers(left, [cover & doors for cover in covers])
    binding: list[int] = []
    for door in sorted(openers, key=lambda door: (openers[door].bit_count(), door)):
        budget.spend(len(binding))
        if not any(openers[other] & ~openers[door] == 0 for other in binding):
            binding.append(door)
    return sum(1 << door for door in binding)


def _undominated(left: list[int], covers: list[int], adds: list[int], budget: Budget) -> list[int]:
    """The keys that no other one replaces. Whatever replaces a key opens all its needed doors, so it is
    looked for among the keys of the one with fewest keys."""
    openers = _openers(left, covers)
    listed = {door: list(bits_of(keys)) for door, keys in openers.items()}
    gone: set[int] = set()
    for key in left:
        rarest = min((listed[door] for door in bits_of(covers[key])), key=len, default=[])
        budget.spend(len(rarest))
        if not covers[key] or any(
            other not in gone and _replaces(other, key, covers, adds) for other in rarest
        ):
            gone.add(key)
    return [key for key in left if key not in gone]


def _replaces(other: int, key: int, covers: list[int], adds: list[int]) -> bool:
    if other == key or covers[key] & ~covers[other] or adds[other] & ~adds[key]:
        return False
    return (covers[other], adds[other]) != (covers[key], adds[key]) or other < key
