"""The waves against an exhaustive search of its own, and the laws that every plan keeps."""

from collections import Counter, defaultdict
from itertools import combinations, pairwise, product
from random import Random

import pytest

from keyctl.rotations.planning import Batch, NoPlan, Plan, Question, fewest_waves, plan_waves
from keyctl.rotations.planning.question import is_in_time, plan_of, visits_of
from keyctl.rotations.planning.reshuffling import reshuffled
from keyctl.rotations.planning.splitting import Items, fewest_cuts

EFFORT = 0.5
SPARES = 4


def ways_to_share(count: int, waves: int) -> list[tuple[int, ...]]:
    """All ways to do some doors in these waves."""
    return [each for each in product(range(count + 1), repeat=waves) if sum(each) == count]


def fewest_visits_by_search(question: Question) -> int | None:
    """Every way to share every batch among the waves is looked at; None where none is allowed."""
    waves = question.most_waves or fewest_waves(question)
    best = None
    for shares in product(*(ways_to_share(batch.count, waves) for batch in question.batches)):
        visits = visits_if_allowed(question, waves, shares)
        if visits is not None and (best is None or visits < best):
            best = visits
    return best


def visits_if_allowed(question: Question, waves: int, shares: tuple[tuple[int, ...], ...]) -> int | None:
    used: Counter[tuple[str, int]] = Counter()
    at: dict[str, set[int]] = defaultdict(set)
    visited = set()
    for batch, share in zip(question.batches, shares, strict=True):
        for wave in range(waves):
            used[batch.format_id, wave] += share[wave]
            if share[wave]:
                visited.add((batch.building, wave))
                at[batch.together].add(wave)
    at.pop("", None)
    if any(number > question.spares[name] for (name, _), number in used.items()):
        return None
    if question.widest and any(max(seen) - min(seen) >= question.widest for seen in at.values()):
        return None
    if any(name in at and max(at[name]) >= last for name, last in question.latest.items()):
        return None
    return len(visited)


def small_question(rng: Random) -> Question:
    formats = ["F", "G"][: rng.choice((1, 1, 2))]
    names = ["", "", "", "K", "L"]
    batches = {
        (building, name, together): Batch(building, name, rng.randint(1, 3), together)
        for building in ("A", "B", "C", "D")[: rng.randint(1, 4)]
        for name in rng.sample(formats, rng.randint(1, len(formats)))
        for together in {rng.choice(names)}
    }
    latest = {"K": rng.randint(1, 3)} if rng.random() < 0.3 else {}
    return Question(
        tuple(sorted(batches.values())),
        {name: rng.randint(1, 4) for name in formats},
        most_waves=rng.choice((None, None, 3)),
        widest=rng.choice((None, 1, 2)),
        latest=latest,
    )


def is_small(question: Question, most: int = 60_000) -> bool:
    waves, ways = question.most_waves or fewest_waves(question), 1
    for batch in question.batches:
        ways *= len(ways_to_share(batch.count, waves)) if waves <= 6 else most
    return ways <= most


def refuse_unlawful(question: Question, plan: Plan) -> None:
    """Every door once, no more spares than there are, nothing later than allowed, visits counted right."""
    shares = tuple(tuple(wave.get(batch, 0) for wave in plan.waves) for batch in question.batches)
    for batch, share in zip(question.batches, shares, strict=True):
        assert sum(share) == batch.count
    assert visits_if_allowed(question, len(plan.waves), shares) == plan.visits
    assert plan.fewest_visits <= plan.visits


@pytest.mark.parametrize("seed", range(6))
def test_no_plan_is_better_than_the_bound_and_a_proven_one_is_the_best(seed: int) -> None:
    rng, looked_at, proven = Random(seed), 0, 0
    while looked_at < 12:
        question = small_question(rng)
        try:
            fits = is_small(question)
        except NoPlan:
            continue
        if not fits:
            continue
        looked_at += 1
        best = fewest_visits_by_search(question) if is_granted(question) else None
        try:
            plan = plan_waves(question, effort=EFFORT)
        except NoPlan:
            assert best is None, question
            continue
        refuse_unlawful(question, plan)
        assert best is not None, question
        assert plan.fewest_visits <= best <= plan.visits, question
        assert plan.is_proven, question
        proven += 1
    assert proven >= 3


def is_granted(question: Question) -> bool:
    return question.most_waves is None or question.most_waves >= fewest_waves(question)


def fewest_cuts_by_search(doors: dict[str, int], spares: int, waves: int) -> int | None:
    """Visits beyond those that each building takes alone, by trying all ways."""
    question = Question(tuple(Batch(name, "F", n) for name, n in doors.items()), {"F": spares}, waves)
    best = fewest_visits_by_search(question)
    return None if best is None else best - sum(-(-n // spares) for n in doors.values())


@pytest.mark.parametrize("spares", [3, 4, 5])
def test_the_cuts_of_full_waves_are_counted_as_a_search_counts_them(spares: int) -> None:
    for doors in combinations(range(1, 6), 3):
        named = {f"B{place}": count for place, count in enumerate(doors)}
        waves = -(-sum(doors) // spares)
        if waves <= 4:
            found = fewest_cuts(Items.of(named, spares, waves))
            assert found == fewest_cuts_by_search(named, spares, waves), named


def test_full_waves_with_no_core_to_spare_are_planned_to_the_bound() -> None:
    """Fourteen waves of 150, twelve buildings, not a core to spare."""
    rng = Random(5)
    doors = [rng.randint(60, 230) for _ in range(11)]
    doors.append(2100 - sum(doors))
    question = Question(tuple(Batch(f"B{place:02}", "F", n) for place, n in enumerate(doors)), {"F": 150})
    plan = plan_waves(question, effort=EFFORT)
    refuse_unlawful(question, plan)
    assert len(plan.waves) == 14
    assert plan.is_proven


def test_the_same_question_has_the_same_answer() -> None:
    rng = Random(3)
    batches = tuple(Batch(f"B{place}", "F", rng.randint(5, 40), rng.choice(("", "K"))) for place in range(6))
    question = Question(batches, {"F": 20}, widest=6)
    assert plan_waves(question, effort=EFFORT) == plan_waves(question, effort=EFFORT)


def test_nothing_to_do_is_no_wave() -> None:
    assert plan_waves(Question((), {})) == Plan((), 0, 0)


@pytest.mark.parametrize(
    ("question", "words"),
    [
        (Question((Batch("A", "F", 3),), {}), "no spare core of the format F"),
        (Question((Batch("A", "F", 3),), {"F": 1}, most_waves=2), "at least 3 waves"),
        (Question((Batch("A", "F", 3, "K"),), {"F": 1}, widest=2), "share K take 3 more waves"),
        (Question((Batch("A", "F", 3, "K"),), {"F": 1}, latest={"K": 1}), "1 is allowed"),
    ],
)
def test_what_cannot_be_planned_is_told_with_the_remedy(question: Question, words: str) -> None:
    with pytest.raises(NoPlan, match=words):
        plan_waves(question)


def test_waves_are_put_in_the_order_in_which_keys_across_buildings_are_close() -> None:
    """Six houses of a wave each; chains of keys link them in another order than their names."""
    chain = ["D", "A", "F", "B", "E", "C"]
    keys = {(one, other): f"K{one}{other}" for one, other in pairwise(chain)}
    batches = [Batch(house, "F", 1, key) for pair, key in keys.items() for house in pair]
    batches += [Batch(house, "F", 8 if house in "BEFA" else 9) for house in chain]
    question = Question(tuple(sorted(batches)), {"F": 10}, widest=2)
    plan = plan_waves(question, effort=EFFORT)
    refuse_unlawful(question, plan)
    assert (plan.visits, plan.fewest_visits) == (6, 6)


def test_keys_begun_before_come_first() -> None:
    question = Question(
        (Batch("A", "F", 4), Batch("B", "F", 4), Batch("C", "F", 2, "K")), {"F": 4}, latest={"K": 1}
    )
    plan = plan_waves(question, effort=EFFORT)
    refuse_unlawful(question, plan)
    assert plan.waves[0][Batch("C", "F", 2, "K")] == 2


@pytest.mark.parametrize("seed", range(8))
def test_waves_put_together_anew_keep_to_all_that_was_asked(seed: int) -> None:
    """From a plan that takes the doors as they come to a better one; keys wander along the houses."""
    rng = Random(seed)
    houses = [f"H{nth:02}" for nth in range(rng.randint(6, 10))]
    held = Counter((house, rng.choice(["F", "G"]), f"K{rng.randint(0, 7)}") for house in houses * 5)
    batches = tuple(sorted(Batch(house, name, count, key) for (house, name, key), count in held.items()))
    waves: list[Counter[Batch]] = [Counter()]
    for batch in sorted(batches, key=lambda batch: batch.together):
        for _ in range(batch.count):
            if sum(waves[-1][each] for each in batches if each.format_id == batch.format_id) == SPARES:
                waves.append(Counter())
            waves[-1][batch] += 1
    question = Question(batches, {"F": SPARES, "G": SPARES}, widest=5, latest={"K0": 3, "K1": 6})
    assert is_in_time(question, waves)
    found = reshuffled(question, waves, 1, 1.0)
    plan = plan_of(found, 1)
    refuse_unlawful(question, plan)
    assert plan.visits < visits_of(waves)
