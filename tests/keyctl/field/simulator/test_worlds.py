"""Thousands of small worlds against the real services: nothing that tablets tell is lost, doubled or wrong.

20,000 worlds on SQLite, shared out over several tests; `KEYCTL_WORLDS` names another number, and
`KEYCTL_WORLD=4217` plays that one alone, exactly as it went.
"""

import os
from collections import Counter
from collections.abc import Iterator

import pytest
from django.db import connection

from tests.keyctl.field.simulator.ground import Ground, lay_ground
from tests.keyctl.field.simulator.playing import ENDS, play
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, DUPLICATE
from tests.keyctl.field.simulator.services import Services

PARTS = 20
FEWEST_IN_A_PART = 200


@pytest.fixture
def ground(db: None) -> Ground:
    return lay_ground()


def worlds_wanted() -> range:
    """Which numbers are played; PostgreSQL answers over a socket: fewer there, by default."""
    if "KEYCTL_WORLD" in os.environ:
        only = int(os.environ["KEYCTL_WORLD"])
        return range(only, only + 1)
    usual = "20000" if connection.vendor == "sqlite" else "200"
    return range(int(os.environ.get("KEYCTL_WORLDS", usual)))


def worlds_of(part: int) -> range:
    """Whole beginnings, so that each is played once."""
    wanted = worlds_wanted()
    beginnings = -(-len(wanted) // ENDS)
    parts = max(1, min(PARTS, len(wanted) // FEWEST_IN_A_PART))
    first, last = (min(part + more, parts) * beginnings // parts * ENDS for more in (0, 1))
    return wanted[first:last]


@pytest.mark.parametrize("part", range(PARTS))
def test_nothing_is_lost_and_nothing_doubled(part: int, ground: Ground) -> None:
    worlds = worlds_of(part)
    if not worlds:
        pytest.skip("the other parts play all that is wanted")
    outcomes: Counter[str] = Counter()
    played = 0
    for game in play(worlds, ground.stage(), lambda estate: Services(ground, estate)):
        outcomes += game.referee.outcomes
        played += 1
    assert played == len(worlds)
    if played >= FEWEST_IN_A_PART:
        # Worlds in which nothing works, or nothing is in the way, would prove little.
        assert min(outcomes[each] for each in (APPLIED, CONFLICT, DUPLICATE)) > outcomes.total() / 10, (
            outcomes
        )


def every_world() -> Iterator[int]:
    for part in range(PARTS):
        yield from worlds_of(part)


def test_every_world_is_played_once(db: None) -> None:
    assert list(every_world()) == list(worlds_wanted())
