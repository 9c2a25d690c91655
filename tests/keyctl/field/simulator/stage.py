"""Which doors, cores, people and tablets one game is played with, drawn from those that stand ready."""

from dataclasses import dataclass
from random import Random

from tests.keyctl.field.simulator.book import Estate, Spot


@dataclass(frozen=True)
class Stage:
    """What many games share; none of them leaves a trace on it."""

    people: tuple[str, ...]
    devices: tuple[str, ...]
    spots: dict[str, Spot]
    versions: dict[str, int]
    # Pinned and fit for every door.
    fit: frozenset[str]
    lines: dict[str, str]
    housings: tuple[str, ...]


MOODS = {"mixed": 6, "tangle": 2, "loss": 1, "calm": 1}


def small(rng: Random, stage: Stage) -> Estate:
    """One to three doors, what is in them, one to three free cores."""
    mood = rng.choices(list(MOODS), list(MOODS.values()))[0]
    calm, tangle = mood == "calm", mood == "tangle"
    people = tuple(rng.sample(stage.people, 1 if calm else rng.choice([1, 2, 2])))
    housings = tuple(rng.sample(stage.housings, 1 if tangle else rng.choice([1, 2, 2, 3])))
    housed = [tag for tag, spot in stage.spots.items() if spot[0] == "housing" and spot[1] in housings]
    free = [tag for tag, spot in stage.spots.items() if spot[1] in {"", *people}]
    if calm:
        free = [tag for tag in free if tag in stage.fit]
    chosen = rng.sample(free, rng.choice([1, 2, 2] if tangle else [1, 2, 2, 3]))
    cores = [*housed, *chosen]
    return Estate(
        housings=housings,
        people=people,
        devices=tuple(rng.sample(stage.devices, 1 if calm else rng.choice([1, 2, 2, 2, 3]))),
        spots={tag: stage.spots[tag] for tag in cores},
        versions={tag: stage.versions[tag] for tag in cores},
        lines={line: housing for line, housing in stage.lines.items() if housing in housings},
        stray="" if calm or rng.random() < 0.9 else "XXXX2222XXXX",
        unseen=frozenset(chosen[:1] if not calm and rng.random() < 0.2 else ()),
        mood=mood,
    )


def whole(stage: Stage) -> Estate:
    """All that stands there."""
    return Estate(stage.housings, stage.people, stage.devices, stage.spots, stage.versions, stage.lines)


def invented() -> Stage:
    """A stage for the double, which asks for names alone."""
    people = ("ada", "ben", "cleo")
    housings = tuple(f"H{n}" for n in range(8))
    spots: dict[str, Spot] = {f"IN{n}": ("housing", housing) for n, housing in enumerate(housings[:6])}
    spots |= {f"FREE{n}": ("shelf" if n % 2 else "bench", "") for n in range(6)}
    spots |= {f"CASE{n}": ("case", person) for n, person in enumerate(people)}
    return Stage(
        people=people,
        devices=("T1", "T2", "T3", "T4"),
        spots=spots,
        versions={tag: n % 3 + 1 for n, tag in enumerate(spots)},
        fit=frozenset(spots),
        lines={f"L{n}": housing for n, housing in enumerate(housings[:5])},
        housings=housings,
    )
