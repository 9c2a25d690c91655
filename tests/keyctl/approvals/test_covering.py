"""The choice of keys against exhaustive search over every set of keys, on small random estates."""

import itertools
import random
from collections import Counter
from dataclasses import dataclass

import pytest

from keyctl.approvals.proposals import Proposal, proposals_for
from tests.keyctl.approvals.estate import Estate

SEEDS = range(40)
Doors = frozenset[int]


@dataclass(frozen=True)
class Puzzle:
    """Doors by number; which of them each key opens, and which are asked for."""

    doors: int
    opens: dict[str, Doors]
    asked: Doors

    def opened(self, keys: tuple[str, ...]) -> Doors:
        return Doors().union(*(self.opens[key] for key in keys))

    def beyond(self, keys: tuple[str, ...]) -> int:
        return len(self.opened(keys) - self.asked)

    def covers(self, keys: tuple[str, ...]) -> bool:
        """Every asked door that any key opens at all."""
        return self.asked & self.opened(tuple(self.opens)) <= self.opened(keys)

    def coverings(self) -> list[tuple[str, ...]]:
        """Every set of keys that would do; none where no key opens any of the doors."""
        if not self.asked & self.opened(tuple(self.opens)):
            return []
        sizes = range(1, len(self.opens) + 1)
        sets = itertools.chain.from_iterable(itertools.combinations(self.opens, size) for size in sizes)
        return [keys for keys in sets if self.covers(keys)]

    def singles(self) -> list[tuple[str, ...]]:
        return [keys for keys in self.coverings() if len(keys) == 1]


def puzzle(seed: int) -> Puzzle:
    chance = random.Random(seed)
    doors = chance.randint(3, 10)
    # Some keys open few doors and some, as a master does, most of them.
    shares = [chance.choice([0.2, 0.45, 0.8]) for _ in range(chance.randint(1, 6))]
    opens = {
        f"K{n}": frozenset(door for door in range(doors) if chance.random() < share)
        for n, share in enumerate(shares)
    }
    return Puzzle(doors, opens, frozenset(chance.sample(range(doors), min(doors, chance.randint(1, 4)))))


def proposed(estate: Estate, given: Puzzle) -> list[tuple[Proposal, Doors]]:
    """The product's proposals, each with its extra doors by number."""
    keys = {name: estate.key(name) for name in given.opens}
    doors = [
        estate.door(*(keys[name] for name, opened in given.opens.items() if number in opened))
        for number in range(given.doors)
    ]
    request = estate.ask(*(doors[number] for number in given.asked))
    numbers = {door.pk: number for number, door in enumerate(doors)}
    return [(each, Doors(numbers[pk] for pk in each.extra)) for each in proposals_for(request)]


def keys_of(proposal: Proposal) -> tuple[str, ...]:
    return tuple(symbol.symbol for symbol in proposal.symbols)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_proposal_covers_all_with_exact_extra_doors_and_no_needless_key(
    estate: Estate, seed: int
) -> None:
    given = puzzle(seed)
    found = proposed(estate, given)
    assert bool(found) == bool(given.coverings())
    for proposal, extra in found:
        keys = keys_of(proposal)
        assert given.covers(keys)
        assert extra == given.opened(keys) - given.asked
        assert len(keys) == 1 or not any(given.covers(tuple(set(keys) - {key})) for key in keys)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_single_key_is_the_best_of_all_single_keys(estate: Estate, seed: int) -> None:
    given = puzzle(seed)
    single = [len(extra) for proposal, extra in proposed(estate, given) if len(keys_of(proposal)) == 1]
    assert single == [min(map(given.beyond, given.singles()))] if given.singles() else single == []


@pytest.mark.parametrize("seed", SEEDS)
def test_the_proposals_are_the_whole_front_of_few_keys_against_few_extra_doors(
    estate: Estate, seed: int
) -> None:
    """Fewest extra doors first. These puzzles are small enough for a front of four at most."""
    given = puzzle(seed)
    found = proposed(estate, given)
    front: list[tuple[int, int]] = []
    for number in range(1, len(given.opens) + 1):
        extra = min((given.beyond(keys) for keys in given.coverings() if len(keys) == number), default=None)
        if extra is not None and (not front or extra < front[-1][1]):
            front.append((number, extra))
    assert len(front) <= 4
    assert [(len(keys_of(proposal)), len(extra)) for proposal, extra in found] == front[::-1]
    assert all(proposal.is_proven for proposal, _ in found)


def test_the_puzzles_are_of_every_kind() -> None:
    """Without a key, with one single key, with several only, and where several beat the single one."""
    kinds = Counter[str]()
    for seed in SEEDS:
        given = puzzle(seed)
        best = min(map(given.beyond, given.coverings()), default=None)
        single = min(map(given.beyond, given.singles()), default=None)
        kinds["none" if best is None else "several" if single is None else f"beaten {best < single}"] += 1
    assert kinds.keys() == {"none", "several", "beaten True", "beaten False"}
