"""When a delivery that failed is tried again, and when an endpoint has failed for too long."""

import random
from datetime import timedelta
from typing import Final

# After each try the pause to the next, somewhat more or less: about a day in all, then it is given up.
PAUSES: Final = (
    timedelta(seconds=5),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=5),
    timedelta(hours=8),
    timedelta(hours=8),
)
JITTER: Final = 0.2
RESTS_AFTER: Final = timedelta(hours=24)
# Nothing is put off further; what is, was so by a clock that was ahead and has been set back.
FARTHEST: Final = PAUSES[-1] * (1 + JITTER)


def pause_after(tries: int, luck: random.Random | None = None) -> timedelta | None:
    """None where it has been tried often enough. By luck, so that what failed together comes apart."""
    if tries > len(PAUSES):
        return None
    share = (luck or random).uniform(1 - JITTER, 1 + JITTER)
    return PAUSES[tries - 1] * share


def longest_pause(misses: int) -> timedelta:
    """After so many tries in a row that reached nobody; it grows up to the last of the pauses."""
    return pause_after(min(misses, len(PAUSES))) or PAUSES[-1]
