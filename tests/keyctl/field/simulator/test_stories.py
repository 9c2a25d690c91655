"""Stories that worlds came upon: what contradicts is settled, and then older facts arrive at last.

Each plays against the services as they are, and against the double without the rule that the story is about.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from itertools import count
from uuid import UUID

import pytest

from tests.keyctl.field.simulator.book import BENCH, SHELF, Estate, Json, inside
from tests.keyctl.field.simulator.double import Double
from tests.keyctl.field.simulator.faults import Fault
from tests.keyctl.field.simulator.ground import Ground, lay_ground
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, Server
from tests.keyctl.field.simulator.services import Services

_numbers = count(1)


@pytest.fixture
def ground(db: None) -> Ground:
    return lay_ground()


def some_estate(ground: Ground) -> Estate:
    """One door with its core, and two free cores."""
    stage = ground.stage()
    housing = stage.housings[0]
    mine = next(tag for tag, spot in stage.spots.items() if spot == inside(housing))
    free = [tag for tag, spot in stage.spots.items() if spot in {SHELF, BENCH} and tag in stage.fit][:2]
    return Estate(
        housings=(housing,),
        people=stage.people[:1],
        devices=stage.devices[:2],
        spots={tag: stage.spots[tag] for tag in (mine, *free)},
        versions={tag: stage.versions[tag] for tag in (mine, *free)},
        lines={},
    )


def fact(estate: Estate, kind: str, **body: object) -> Json:
    number = next(_numbers)
    return {
        "event_id": str(UUID(int=number, version=4)),
        "sequence": number,
        "kind": kind,
        "claimed_at": datetime.now(UTC).isoformat(),
        "person": estate.people[0],
        "body": body,
    }


def swapped(
    estate: Estate, core_in: tuple[str, int], core_out: tuple[str, int], *, tried: bool = True
) -> Json:
    return fact(
        estate,
        "swapped",
        line=None,
        housing=estate.housings[0],
        core_in=core_in[0],
        core_in_version=core_in[1],
        core_out=core_out[0],
        core_out_version=core_out[1],
        put_at="shelf",
        operating_key_turned=tried,
        control_key_came_out=True,
        egress_and_latch_tried=True,
        note="",
    )


def tell(server: Server, estate: Estate, tablet: int, event: Json) -> str:
    device = estate.devices[tablet]
    envelope = {"device": device, "sent_at": datetime.now(UTC).isoformat(), "events": [event]}
    answers = server.take(estate.people[0], envelope, device=device)
    assert answers is not None
    return str(answers[0]["outcome"])


def an_old_fact_after_its_core_came_back(server: Server, estate: Estate) -> bool:
    """The core was taken out, and put back by another; that was settled before the first was told."""
    (mine, one, two), version = estate.spots, estate.versions
    housing = inside(estate.housings[0])
    first = swapped(estate, (one, version[one]), (mine, version[mine]))
    second = swapped(estate, (two, version[two]), (one, version[one] + 1))
    back = swapped(estate, (mine, version[mine]), (two, version[two]))
    assert tell(server, estate, 1, back) == CONFLICT
    (case,) = server.cases()
    assert server.settle(case, {mine: housing, two: SHELF})
    outcomes = [tell(server, estate, 0, event) for event in (first, second)]
    assert outcomes[1] == CONFLICT
    row = server.register()[mine]
    return row.disputed or row.spot == housing


def a_foreseen_version_after_its_case_was_settled(server: Server, estate: Estate) -> bool:
    """Two facts of one tablet; the first contradicts and is settled with what is true by then."""
    (mine, one, _), version = estate.spots, estate.versions
    untried = swapped(estate, (one, version[one]), (mine, version[mine]), tried=False)
    later = fact(estate, "put", core=mine, core_version=version[mine] + 1, place="shelf")
    assert tell(server, estate, 0, untried) == CONFLICT
    (case,) = server.cases()
    # After the second fact somebody else took the core away, and said so in the office.
    assert server.settle(case, {mine: BENCH, one: inside(estate.housings[0])})
    tell(server, estate, 0, later)
    row = server.register()[mine]
    return row.disputed or row.spot == BENCH


def a_core_that_the_tablet_never_saw(server: Server, estate: Estate) -> bool:
    """Moved by a page after the tablet's person had it in the hand; the tablet has no version of it."""
    _, one, _ = estate.spots
    moved = fact(estate, "put", core=one, core_version=None, place="bench")
    assert server.put(estate.people[0], one, "case")
    tell(server, estate, 0, moved)
    row = server.register()[one]
    return row.disputed or row.spot == ("case", estate.people[0])


STORIES: dict[Fault, Callable[[Server, Estate], bool]] = {
    Fault.LOOKS_AT_NO_OUT_VERSION: an_old_fact_after_its_core_came_back,
    Fault.SETTLES_BY_ONE: a_foreseen_version_after_its_case_was_settled,
    Fault.TRUSTS_NO_VERSION: a_core_that_the_tablet_never_saw,
}


@pytest.mark.parametrize("fault", STORIES)
def test_the_register_is_right_or_disputed_where_nobody(fault: Fault, ground: Ground) -> None:
    estate = some_estate(ground)
    assert STORIES[fault](Services(ground, estate), estate)
    assert STORIES[fault](Double(estate), estate)
    assert not STORIES[fault](Double(estate, {fault}), estate)


def test_facts_in_order_are_applied(ground: Ground) -> None:
    estate = some_estate(ground)
    (mine, one, _), version = estate.spots, estate.versions
    server = Services(ground, estate)
    there = swapped(estate, (one, version[one]), (mine, version[mine]))
    back = swapped(estate, (mine, version[mine] + 1), (one, version[one] + 1))
    assert [tell(server, estate, 0, event) for event in (there, back)] == [APPLIED, APPLIED]
    assert server.register()[mine].spot == inside(estate.housings[0])
