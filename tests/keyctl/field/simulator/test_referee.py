"""The simulator can fail: whatever is wrong with a server, or with a tablet, the referee sees it."""

from collections.abc import Callable
from typing import Any
from unittest.mock import PropertyMock, patch

import pytest

from keyctl.cores.services import disputes
from keyctl.field.models import Device
from keyctl.field.services import conflicts, taking
from tests.keyctl.field.simulator.double import Double
from tests.keyctl.field.simulator.faults import Fault
from tests.keyctl.field.simulator.ground import Ground, lay_ground
from tests.keyctl.field.simulator.playing import ENDS, LONG, Wrong, play
from tests.keyctl.field.simulator.services import Services
from tests.keyctl.field.simulator.stage import invented

# One end of each beginning.
SOME_HUNDRED = range(0, 400 * ENDS, ENDS)
# What shows only where several accidents meet.
SOME_THOUSAND = range(0, 2_500 * ENDS, ENDS)
RARE = {Fault.SEES_NO_GAP, Fault.TRUSTS_NO_VERSION, Fault.SETTLES_BY_ONE, Fault.LOOKS_AT_NO_CORE_OUT}
# Told as a story in test_stories.py: chance takes too long to come upon it.
TOLD = {Fault.LOOKS_AT_NO_OUT_VERSION}


@pytest.fixture
def ground(db: None) -> Ground:
    return lay_ground()


def test_the_protocol_as_it_is_written_passes() -> None:
    games = list(play(range(1_000), invented(), Double, length=LONG))
    assert len(games) == 1_000
    assert sum(len(game.referee.written) for game in games) > 5_000


@pytest.mark.parametrize("fault", sorted(set(Fault) - TOLD))
def test_the_referee_sees_what_is_wrong_where_somebody(fault: Fault) -> None:
    worlds = SOME_THOUSAND if fault in RARE else SOME_HUNDRED
    hasty = fault == Fault.ASKS_TOO_SOON
    with pytest.raises(Wrong, match=r"KEYCTL_WORLD=\d+ plays it alone"):
        for _ in play(worlds, invented(), lambda told: Double(told, {fault}), length=LONG, hasty=hasty):
            pass


def no_difference(*_facts: Any, **_more: Any) -> None:
    """In the place of what refuses, or marks."""


BROKEN: dict[str, Callable[[], Any]] = {
    "marks no dispute": lambda: patch.object(conflicts, "dispute_cores", no_difference),
    "lets a withdrawn tablet act": lambda: patch.object(
        Device, "is_withdrawn", PropertyMock(return_value=False)
    ),
    "tells history nothing": lambda: patch.object(taking, "keep_story", no_difference),
    "settles under the old version": lambda: patch.object(disputes, "SETTLED_JUMP", 0),
}


@pytest.mark.parametrize("broken", BROKEN)
def test_the_referee_sees_services_that(broken: str, ground: Ground) -> None:
    with BROKEN[broken](), pytest.raises(Wrong):
        for _ in play(range(0, 200 * ENDS, ENDS), ground.stage(), lambda estate: Services(ground, estate)):
            pass
