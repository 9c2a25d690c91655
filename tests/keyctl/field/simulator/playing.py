"""Playing worlds by their numbers: several share how they begin, and each ends in its own way.

What they share is played once, and each goes on from there: so a world costs little and is rich all the same.
World 4217 is an end of beginning 210, whether it is played alone or among the others.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from random import Random

from tests.keyctl.field.simulator.book import Estate
from tests.keyctl.field.simulator.game import Game
from tests.keyctl.field.simulator.server import Server
from tests.keyctl.field.simulator.stage import Stage, small

ENDS = 20


@dataclass(frozen=True)
class Length:
    """How many steps before the ways part, and after, with how often each number is drawn."""

    first: dict[int, float]
    then: dict[int, float]

    def draw(self, rng: Random, steps: dict[int, float]) -> int:
        return rng.choices(list(steps), list(steps.values()))[0]


# Most are small, some are not: where a database keeps the register each fact costs.
SHORT = Length({4: 3, 8: 4, 12: 3, 20: 1}, {0: 2, 1: 4, 2: 2, 4: 0.6, 10: 0.1})
LONG = Length({8: 1, 20: 1, 40: 1}, {4: 2, 10: 2, 20: 1})


class Wrong(AssertionError):
    """A world in which something was lost, doubled or told wrongly."""


@contextmanager
def named(what: str, number: int) -> Iterator[None]:
    """Whatever goes wrong inside says in which world, and how that one is played alone."""
    try:
        yield
    except Wrong:
        raise
    except Exception as fault:
        raise Wrong(f"{what}: {fault!r}. KEYCTL_WORLD={number} plays it alone.") from fault


def play(
    numbers: Iterable[int],
    stage: Stage,
    open_server: Callable[[Estate], Server],
    *,
    length: Length = SHORT,
    hasty: bool = False,
) -> Iterator[Game]:
    """Every world of these numbers, as it ended."""
    begun = datetime.now(UTC)
    for beginning, worlds in groupby(numbers, lambda number: number // ENDS):
        rng = Random(beginning)
        estate = small(rng, stage)
        with open_server(estate).branch() as server, named(f"beginning {beginning}", beginning * ENDS):
            game = Game(rng, estate, server, begun, hasty=hasty)
            game.go_on(length.draw(rng, length.first))
            game.have_a_good_hour()
            for number in worlds:
                yield _end(game, number, length)


def _end(game: Game, number: int, length: Length) -> Game:
    rng = Random(f"end {number}")
    with game.server.branch() as server, named(f"world {number}", number):
        ended = game.branch(server, rng)
        ended.go_on(length.draw(rng, length.then))
        # To settle costs as much as several facts: every second world has it at its end, too.
        ended.come_in(settled=number % 2 == 0)
        return ended
