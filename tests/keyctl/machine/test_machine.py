"""Custody and requests as a state machine over the real services: the law holds, and each no says why.

25,000 steps on SQLite, shared out over several tests; `KEYCTL_STEPS` names another number.
"""

import os
from collections import Counter

import pytest
from django.db import connection
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.cast import Cast
from tests.keyctl.machine.asking import RequestMachine
from tests.keyctl.machine.world import build_world

PARTS = 10
# The first games of a part are dull: what generates them begins with its simplest choices.
FEWEST_IN_A_PART = 2_000
# A game that failed is shrunk on demand only (`KEYCTL_SHRINK=1`): that takes minutes.
PHASES = [Phase.generate, *([Phase.shrink] if "KEYCTL_SHRINK" in os.environ else [])]
IN_A_GAME = 100


def steps_wanted() -> int:
    """PostgreSQL answers over a socket: fewer steps there, by default."""
    usual = 25_000 if connection.vendor == "sqlite" else 2_000
    return int(os.environ.get("KEYCTL_STEPS", usual))


@pytest.mark.parametrize("part", range(PARTS))
def test_the_law_holds_after_every_step(part: int, cast: Cast) -> None:
    parts = max(1, min(PARTS, steps_wanted() // FEWEST_IN_A_PART))
    if part >= parts:
        pytest.skip(f"{steps_wanted():,} steps are played in {parts} parts")
    wanted = steps_wanted() // parts

    class Machine(RequestMachine):
        world = build_world(cast)
        tally = Counter()

    series = 0
    while Machine.steps < wanted:
        play(Machine, -(-(wanted - Machine.steps) // IN_A_GAME), 100 * part + series)
        series += 1
    done = sum(number for (_, went), number in Machine.tally.items() if went)
    # A machine that is refused nearly everything would prove little; most parts get a quarter through.
    assert done > 0.1 * Machine.steps, Machine.tally


def play(machine: type[RequestMachine], games: int, number: int) -> None:
    options = settings(
        max_examples=games,
        stateful_step_count=IN_A_GAME,
        deadline=None,
        database=None,
        print_blob=True,
        phases=PHASES,
        suppress_health_check=list(HealthCheck),
    )
    seed(number)(machine)
    run_state_machine_as_test(machine, settings=options)
