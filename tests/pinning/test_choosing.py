"""Fewest keys against fewest extra doors: every entry of the front against all sets of keys there are."""

from __future__ import annotations

import itertools
import os
from random import Random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from pinning.choosing import KeySet, choose_keys, preview_keys
from pinning.errors import Refused

# 100,000 were run once; every run of the tests tries this many.
SEARCHED = int(os.environ.get("KEYCTL_CHOICES", "20000"))
SOLVED = SEARCHED // 10

Opens = dict[str, frozenset[int]]


def question(rng: Random) -> tuple[Opens, list[int], int | None]:
    """Up to eight keys over up to twelve doors: wide ones, and some for a needed door or two."""
    doors = range(rng.randint(2, 12))
    asked = rng.sample(doors, rng.randint(0, min(len(doors), 5)))
    opens = {}
    for number in range(rng.randint(1, 8)):
        some = rng.sample(asked, min(len(asked), rng.randint(1, 2)))
        few, wide = (
            rng.sample(doors, rng.randint(0, 2)),
            rng.sample(doors, rng.randint(len(doors) // 2, len(doors))),
        )
        opens[f"K{number}"] = frozenset(wide if rng.random() < 0.3 else some + few)
    opened = frozenset[int]().union(*opens.values())
    return opens, [door for door in asked if door in opened], rng.choice((None, None, None, 0, 1, 2))


def exhaustive(opens: Opens, needed: list[int], max_keys: int | None) -> list[tuple[int, int]]:
    """(number of keys, extra doors) of the front, by trying every set of keys, smallest sets first."""
    front: list[tuple[int, int]] = []
    wanted = frozenset(needed)
    for number in range((len(opens) if max_keys is None else min(max_keys, len(opens))) + 1):
        unions = (frozenset[int]().union(*doors) for doors in itertools.combinations(opens.values(), number))
        fewest = min((len(union - wanted) for union in unions if wanted <= union), default=None)
        if fewest is not None and (not front or fewest < front[-1][1]):
            front.append((number, fewest))
    return front


def checked(opens: Opens, needed: list[int], front: list[KeySet[str]]) -> list[tuple[int, int]]:
    """The front as figures, once its keys do what it says of them."""
    for choice in front:
        opened = frozenset[int]().union(*(opens[key] for key in choice.keys))
        assert frozenset(needed) <= opened
        assert choice.extra == len(opened - frozenset(needed))
        assert list(choice.keys) == [key for key in opens if key in choice.keys]
    return [(len(choice.keys), choice.extra) for choice in front]


def test_the_front_is_that_of_all_sets_of_keys() -> None:
    rng, fronts = Random(1), [0, 0, 0, 0]
    for _ in range(SEARCHED):
        opens, needed, max_keys = question(rng)
        found = choose_keys(opens, needed, max_keys)
        assert checked(opens, needed, found) == exhaustive(opens, needed, max_keys)
        assert all(choice.is_proven for choice in found)
        fronts[min(len(found), 3)] += 1
    assert all(count > SEARCHED // 2500 for count in fronts)


def test_the_solver_finds_the_same_front_as_all_sets_of_keys() -> None:
    rng = Random(2)
    for _ in range(SOLVED):
        opens, needed, max_keys = question(rng)
        found = choose_keys(opens, needed, max_keys, search_steps=0)
        assert checked(opens, needed, found) == exhaustive(opens, needed, max_keys)
        assert all(choice.is_proven for choice in found)


def test_a_preview_opens_every_needed_door_and_is_never_called_proven() -> None:
    rng = Random(3)
    for _ in range(SEARCHED // 10):
        opens, needed, max_keys = question(rng)
        figures = checked(opens, needed, found := preview_keys(opens, needed, max_keys))
        best = exhaustive(opens, needed, max_keys)
        assert figures == sorted(set(figures))
        assert not any(choice.is_proven for choice in found)
        assert all(any(n <= number and e <= extra for n, e in best) for number, extra in figures)


def test_doors_that_are_counted_and_not_listed_weigh_as_doors_that_only_that_key_opens() -> None:
    rng = Random(4)
    for _ in range(SEARCHED // 10):
        opens, needed, max_keys = question(rng)
        more = {key: rng.randint(0, 3) for key in opens if rng.random() < 0.5}
        listed = {
            key: doors | {100 * number + nth for nth in range(1, more.get(key, 0) + 1)}
            for number, (key, doors) in enumerate(opens.items(), 1)
        }
        assert preview_keys(opens, needed, max_keys, more=more) == preview_keys(listed, needed, max_keys)


def middling(rng: Random) -> tuple[Opens, list[int]]:
    """Sixteen needed doors among 120: keys of one block, and keys of a few doors each."""
    opens = {f"M{block}": frozenset(range(block * 30, block * 30 + 30)) for block in range(4)}
    for number in range(70):
        start = rng.randrange(100)
        opens[f"S{number}"] = frozenset(rng.sample(range(start, start + 20), rng.randint(2, 8)))
    opened = sorted(frozenset[int]().union(*opens.values()))
    return opens, rng.sample(opened, 16)


def fewest_extra(opens: Opens, needed: list[int], most: int) -> int | None:
    """By HiGHS on the plain question: no key left out, no doors put together."""
    keys, doors = list(opens), sorted(frozenset[int]().union(*opens.values()) - set(needed))
    size = len(keys) + len(doors)
    rows, least = [np.r_[-np.ones(len(keys)), np.zeros(len(doors))]], [-float(most)]
    for door in needed:
        rows.append(np.r_[[float(door in opens[key]) for key in keys], np.zeros(len(doors))])
        least.append(1.0)
    for place, door in enumerate(doors, len(keys)):
        for number, key in enumerate(keys):
            if door in opens[key]:
                row = np.zeros(size)
                row[place], row[number] = 1.0, -1.0
                rows.append(row)
                least.append(0.0)
    costs = np.r_[np.zeros(len(keys)), np.ones(len(doors))]
    limits = LinearConstraint(np.array(rows), np.array(least), np.inf)
    solved = milp(costs, constraints=limits, integrality=np.ones(size), bounds=Bounds(0, 1))
    return round(solved.fun) if solved.status == 0 else None


@pytest.mark.parametrize("seed", range(4))
def test_another_solver_agrees_on_middling_questions(seed: int) -> None:
    """At every number of keys: the fewest extra doors, or that so few keys do not do."""
    opens, needed = middling(Random(seed))
    front = dict(checked(opens, needed, found := choose_keys(opens, needed)))
    assert all(choice.is_proven for choice in found)
    for most in range(min(front) - 1, max(front) + 2):
        told = min((extra for number, extra in front.items() if number <= most), default=None)
        assert told == fewest_extra(opens, needed, most)


def test_the_same_question_gives_the_same_keys() -> None:
    opens, needed = middling(Random(9))
    first = choose_keys(opens, needed, search_steps=0)
    assert first == choose_keys(opens, needed, search_steps=0)
    assert len(first) > 1


def test_of_keys_that_do_alike_the_first_given_is_chosen() -> None:
    for names in (["K2", "K1", "K3"], ["K3", "K2", "K1"]):
        (choice,) = choose_keys({name: ["D1", "D2"] for name in names}, ["D1"])
        assert choice.keys == (names[0],)


def test_what_is_not_proven_in_time_is_not_called_proven() -> None:
    opens, needed = middling(Random(5))
    found = choose_keys(opens, needed, limit_s=0.0, search_steps=0)
    assert found
    assert not any(choice.is_proven for choice in found)
    checked(opens, needed, found)


def test_a_front_that_time_left_without_entries_is_refused() -> None:
    """Three of these keys open all doors; picking key by key finds four."""
    opened = ("34y", "58", "1267x", "1", "0358y", "02368x", "146", "0", "13678")
    opens, needed = {f"K{key}": list(doors) for key, doors in enumerate(opened)}, list("012345678")
    assert preview_keys(opens, needed, 3) == []
    assert [(len(each.keys), each.extra) for each in choose_keys(opens, needed, 3)] == [(3, 2)]
    with pytest.raises(Refused, match="not settled"):
        choose_keys(opens, needed, 3, limit_s=0.0, search_steps=0)
    assert not any(choice.is_proven for choice in choose_keys(opens, needed, limit_s=0.0, search_steps=0))


def test_the_same_effort_gives_the_same_answer_proven_or_not() -> None:
    opens, needed = middling(Random(5))
    found = [choose_keys(opens, needed, effort=1e-5, search_steps=0) for _ in range(2)]
    assert found[0] == found[1]
    assert not all(choice.is_proven for choice in found[0])
    checked(opens, needed, found[0])


def test_a_needed_door_without_a_key_is_named() -> None:
    with pytest.raises(Refused) as refused:
        choose_keys({"K1": ["D1"]}, ["D1", "D7", "D8"])
    messages = [refusal.message for refusal in refused.value.refusals]
    assert [refusal.code for refusal in refused.value.refusals] == ["no_key", "no_key"]
    assert "'D7'" in messages[0]
    assert "'D8'" in messages[1]


def test_of_a_great_many_doors_without_a_key_the_first_are_named_and_the_rest_counted() -> None:
    with pytest.raises(Refused) as refused:
        choose_keys({"K1": ["D1"]}, [f"N{number}" for number in range(40)])
    assert len(refused.value.refusals) == 11
    assert "30 more" in refused.value.refusals[-1].message
