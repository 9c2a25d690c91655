"""Tablets that tell at one moment, in transactions of their own: one effect, and each fact kept once."""

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.field.models import FieldEvent, ReconcileCase
from tests.keyctl.field.simulator.book import Json, inside
from tests.keyctl.field.simulator.ground import Ground, lay_ground
from tests.keyctl.field.simulator.server import APPLIED, CONFLICT, DUPLICATE
from tests.keyctl.field.simulator.services import Services
from tests.keyctl.field.simulator.stage import whole
from tests.keyctl.field.simulator.test_stories import fact, some_estate, swapped

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def ground(transactional_db: None) -> Ground:
    return lay_ground()


def at_once(acts: Sequence[Callable[[], Any]]) -> list[Any]:
    """What each gave, all begun together, each on a connection of its own."""
    start = Barrier(len(acts))

    def run(act: Callable[[], Any]) -> Any:
        start.wait()
        try:
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


def sent(server: Services, device: str, *events: Json) -> Callable[[], list[Json]]:
    envelope = {"device": device, "sent_at": events[0]["claimed_at"], "events": list(events)}

    def send() -> list[Json]:
        answers = server.take(events[0]["person"], envelope, device=device)
        assert answers is not None
        return answers

    return send


def outcomes(batches: Sequence[Sequence[Json]]) -> Counter[str]:
    return Counter(answer["outcome"] for batch in batches for answer in batch)


@pytest.mark.parametrize("tablets", [2, 50])
def test_many_tablets_move_one_core(tablets: int, ground: Ground) -> None:
    estate = some_estate(ground)
    _, core, _ = estate.spots
    server = Services(ground, estate)
    facts = [
        fact(
            estate, "put", core=core, core_version=estate.versions[core], place="bench" if n % 2 else "shelf"
        )
        for n in range(tablets)
    ]
    devices = list(ground.devices)
    answers = at_once([sent(server, devices[n % len(devices)], event) for n, event in enumerate(facts)])
    assert outcomes(answers) == Counter({APPLIED: 1, CONFLICT: tablets - 1})
    assert FieldEvent.objects.count() == tablets
    assert Event.objects.filter(verb="core.moved").count() == 1
    assert Event.objects.filter(verb="field.contradicted").count() == tablets - 1
    # One case holds all their stories, and the first one's word stands until somebody looks.
    case = ReconcileCase.objects.get(state=ReconcileCase.State.OPEN)
    assert case.stories.count() == tablets - 1
    row = Core.objects.get(tag=core)
    assert (row.is_disputed, row.version) == (True, estate.versions[core] + 1)


def test_twenty_tablets_at_one_door(ground: Ground) -> None:
    """Each puts another core in, so they say; the door holds one."""
    estate = whole(ground.stage())
    server = Services(ground, estate)
    housing = estate.housings[0]
    mine = next(tag for tag, spot in estate.spots.items() if spot == inside(housing))
    fit = ground.stage().fit
    free = [tag for tag, spot in estate.spots.items() if spot[0] in {"shelf", "bench"} and tag in fit]
    pairs = [(free[n % len(free)], mine) for n in range(20)]
    facts = [swapped(estate, *((tag, estate.versions[tag]) for tag in pair)) for pair in pairs]
    devices = list(ground.devices)
    answers = at_once([sent(server, devices[n % len(devices)], event) for n, event in enumerate(facts)])
    assert outcomes(answers) == Counter({APPLIED: 1, CONFLICT: 19})
    assert Core.objects.filter(housing_id=housing).count() == 1
    assert Event.objects.filter(verb="core.swapped").count() == 1
    disputed = set(Core.objects.filter(disputed_at__isnull=False).values_list("tag", flat=True))
    assert disputed == frozenset().union(*server.cases().values()) >= {mine}


def test_one_batch_sent_twice_at_the_same_moment(ground: Ground) -> None:
    estate = some_estate(ground)
    mine, one, _ = estate.spots
    version = estate.versions
    server = Services(ground, estate)
    batch = [
        swapped(estate, (one, version[one]), (mine, version[mine])),
        fact(estate, "put", core=mine, core_version=version[mine] + 1, place="bench"),
        fact(estate, "noted", door=None, line=None, text="The latch sticks."),
    ]
    answers = at_once([sent(server, estate.devices[0], *batch) for _ in range(4)])
    assert outcomes(answers) == Counter({APPLIED: 3, DUPLICATE: 9})
    assert {answer["first_outcome"] for each in answers for answer in each} <= {APPLIED, "None", ""}
    assert FieldEvent.objects.count() == 3
    verbs = Counter(Event.objects.filter(verb__startswith="core.").values_list("verb", flat=True))
    assert verbs == {"core.swapped": 1, "core.moved": 1}


def test_a_case_is_settled_while_a_fact_about_it_comes_in(ground: Ground) -> None:
    """Whichever is first, the core is where the settler says, or disputed anew; never silently elsewhere."""
    estate = some_estate(ground)
    _, core, _ = estate.spots
    server = Services(ground, estate)
    stale = fact(estate, "put", core=core, core_version=estate.versions[core] - 1, place="bench")
    foreseen = fact(estate, "put", core=core, core_version=estate.versions[core] + 1, place="bench")
    assert sent(server, estate.devices[0], stale)()[0]["outcome"] == CONFLICT
    (case,) = server.cases()
    truth = ("case", estate.people[0])
    settled, answers = at_once(
        [lambda: server.settle(case, {core: truth}), sent(server, estate.devices[1], foreseen)]
    )
    assert answers[0]["outcome"] == CONFLICT
    row = server.register()[core]
    assert row.disputed is (len(server.cases()) == 1)
    assert row.disputed or row.spot == truth
    # Settled first: told of anew. Told first: the settler decided with both stories in the case.
    assert settled
