"""What decisions would open, at a glance: against a plain reading of the doors, and never without a bound."""

import random
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.approvals import glance
from keyctl.approvals.glance import glances
from keyctl.approvals.models import KeyRequest, Step
from keyctl.cores.models import Turn
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol
from tests.keyctl.approvals.estate import Estate


def steps(*requests: KeyRequest) -> list[Step]:
    rows = Step.objects.filter(request__in=requests, state="waiting", since__isnull=False)
    return list(rows.select_related("request__building").order_by("since", "pk"))


def opened(key: KeySymbol) -> set[UUID]:
    """Core by core, as somebody would try it."""
    found: set[UUID] = set()
    for turn in Turn.objects.filter(symbol=key, operates=True).select_related("core__housing"):
        if turn.core.housing:
            found.add(turn.core.housing.door_id)
    return found


@pytest.mark.parametrize("seed", range(4))
def test_it_agrees_with_a_plain_reading_of_every_door(estate: Estate, seed: int) -> None:
    rng = random.Random(seed)
    keys = [estate.key(f"K{nth}", is_master=nth < 2) for nth in range(6)]
    for nth, key in enumerate(keys):
        if nth >= 2:
            KeySymbol.objects.filter(pk=key.pk).update(level=1, parent=keys[0], ordinal=nth)
    doors = [estate.door(*rng.sample(keys, rng.randint(1, 4))) for _ in range(12)]
    for door in doors:
        Door.objects.filter(pk=door.pk).update(door_class=rng.choice(Door.DoorClass.values))
    classes = dict(Door.objects.values_list("pk", "door_class"))
    for door_set in (rng.sample(doors, 1), rng.sample(doors, 2)):
        (step,) = steps(estate.ask(*door_set, actor=estate.cast.desk))
        found = glances([step])[step.pk]
        fitting = [key for key in KeySymbol.objects.all() if {door.pk for door in door_set} <= opened(key)]
        assert bool(found.symbols) == bool(fitting)
        if fitting:
            (key,) = found.symbols
            assert key in fitting
            assert key.is_master == all(each.is_master for each in fitting)
            assert key.level == max(each.level or 0 for each in fitting)
            assert found.doors == len(opened(key))
            grave = [classes[door] for door in opened(key)]
            assert (found.critical, found.restricted) == (grave.count("critical"), grave.count("restricted"))


def test_a_key_of_too_many_doors_is_not_read_to_its_end(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(glance, "MOST_READ", 3)
    few, many = estate.key("AA1"), estate.key("AA2")
    requests = [estate.ask(estate.door(few)), estate.ask(estate.door(many))]
    for _ in range(2):
        estate.door(few)
    for _ in range(3):
        estate.door(many)
    found = glances(steps(*requests))
    assert [found[step.pk].doors for step in steps(*requests)] == [3, None]


def test_control_keys_and_retired_ones_are_never_what_would_be_given(estate: Estate) -> None:
    key = estate.key("AA1")
    (step,) = steps(estate.ask(estate.door(key)))
    KeySymbol.objects.filter(pk=key.pk).update(retired_at=step.since)
    assert glances([step])[step.pk].symbols == ()


def test_the_number_of_queries_does_not_grow_with_the_decisions(estate: Estate) -> None:
    def queries(waiting: list[Step]) -> int:
        with CaptureQueriesContext(connection) as seen:
            glances(waiting)
        return len(seen)

    key = estate.key("AA1")
    one = steps(estate.ask(estate.door(key)))
    five = one + steps(*(estate.ask(estate.door(key)) for _ in range(4)))
    assert queries(one) == queries(five)
