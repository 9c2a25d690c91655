"""Waves for 2,000 cores and 150 spares: the planner against a plain filling, and its distance to the bound.

The plain filling takes the doors in the order of their buildings, wave after wave, as somebody with a list
would, and knows of no time. The sizes of the buildings follow a power law, as on a campus: few large ones,
many small ones.
"""

from collections import defaultdict
from random import Random
from time import perf_counter

from keyctl.rotations.planning import Batch, Question, plan_waves
from tests.bench.report import Line, Report, sized

DOORS, SPARES = sized(2_000, 400), 150
MOST_GAP = 5.0


def run(report: Report) -> None:
    for name, question in _questions().items():
        began = perf_counter()
        plan = plan_waves(question)
        seconds = perf_counter() - began
        plain = _plain(question)
        doors = sum(batch.count for batch in question.batches)
        buildings = len({batch.building for batch in question.batches})
        remark = f"{plan.visits} visits, bound {plan.fewest_visits}; {seconds:.1f} s"
        report.at_most(f"gap to the bound, {name}", 100 * plan.gap, MOST_GAP, "%", remark)
        remark = f"{doors:,} doors, {buildings} buildings, {len(plan.waves)} waves"
        report.add(Line(f"visits, {name} : plain filling", "ratio", plan.visits, plain, 1, "visits", remark))


def _questions() -> dict[str, Question]:
    return {
        "60 keys across buildings within eleven waves": _across(1, 60, 60, 6, 11),
        # Many keys across many buildings and little time: the bound does not count what that costs.
        "400 keys across buildings within four waves": _across(1, 60, 400, 3, 4),
        "other 400 keys within four waves": _across(3, 60, 400, 3, 4),
        "one format": _asked(1, 60),
        "three formats": _asked(2, 60, formats=3),
        "few buildings": _asked(3, 15),
        "many buildings": _asked(4, 200),
        "not a core to spare": _asked(5, 30, doors=14 * SPARES),
        "keys done within two waves": _asked(6, 60, widest=2),
    }


def _asked(
    seed: int, buildings: int, formats: int = 1, doors: int = DOORS, widest: int | None = None
) -> Question:
    rng, batches = Random(seed), list[Batch]()
    weights = [rng.paretovariate(1.2) for _ in range(buildings)]
    for place, weight in enumerate(weights):
        left = doors - sum(batch.count for batch in batches)
        is_last = place == buildings - 1
        count = left if is_last else max(formats, round(doors * weight / sum(weights)))
        for nth in range(formats):
            share = count // formats + (nth < count % formats)
            batches += _batches(rng, f"B{place:03}", f"F{nth}", share, widest is not None)
    return Question(tuple(batches), {f"F{nth}": SPARES // formats for nth in range(formats)}, widest=widest)


def _batches(rng: Random, building: str, name: str, count: int, shares: bool) -> list[Batch]:
    """Where time counts, a third of the doors share a key with some others of their building."""
    found, nth = list[Batch](), 0
    while shares and count > 12 and nth < 10:
        size = rng.randint(2, 8)
        found.append(Batch(building, name, size, f"{building}-{nth}"))
        count, nth = count - size, nth + 1
    return [*found, Batch(building, name, count)] if count else found


def _across(seed: int, buildings: int, keys: int, chunk: int, widest: int) -> Question:
    """Every door shares its key, door by door along the buildings and round again."""
    rng, found, door = Random(seed), defaultdict[tuple[str, str], int](int), 0
    weights = [rng.paretovariate(1.2) for _ in range(buildings)]
    for place, weight in enumerate(weights):
        for _ in range(max(1, round(DOORS * weight / sum(weights)))):
            found[f"B{place:03}", f"K{door // chunk % keys}"] += 1
            door += 1
    batches = tuple(Batch(where, "F0", count, key) for (where, key), count in sorted(found.items()))
    return Question(batches, {"F0": SPARES}, widest=widest)


def _plain(question: Question) -> int:
    """Building after building, door after door, a format's wave full before its next."""
    filled, visits = defaultdict[str, int](int), set[tuple[str, int]]()
    for batch in sorted(question.batches):
        for _ in range(batch.count):
            visits.add((batch.building, filled[batch.format_id] // question.spares[batch.format_id]))
            filled[batch.format_id] += 1
    return len(visits)
