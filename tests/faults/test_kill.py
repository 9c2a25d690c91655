"""The server is killed at random moments while eight people work; nothing that it answered is lost.

On PostgreSQL this runs on demand: `python -m tests.faults kill --database postgresql`.
"""

import os

import pytest

from tests.faults.killing import KillLoop
from tests.faults.serving import Ground, folder_on_disk

SEEDS = (1, 2)
TIMES = int(os.environ.get("KEYCTL_KILLS", "200" if os.environ.get("KEYCTL_CI") else "20")) // len(SEEDS)

ENOUGH = 50

pytestmark = pytest.mark.skipif(
    bool(os.environ.get("KEYCTL_DATABASE_URL")), reason="has databases of its own; tried on SQLite"
)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_answered_outlives_the_server(seed: int) -> None:
    with folder_on_disk() as folder, Ground(folder) as ground:
        loop = KillLoop(ground, seed)
        assert loop.durability == "sqlite 2"  # synchronous=FULL, by SQLite's own numbering
        tally = loop.run(TIMES)
    assert tally.kills == TIMES
    # Killed amid work, not before or after it; of a few kills none may fall between a commit and its answer.
    assert tally.answered > TIMES
    assert tally.unheard > 0 or TIMES < ENOUGH
