"""Two tablets at one count at the same moment, each on a connection of its own."""

import pytest

from keyctl.audit.models import Event
from keyctl.counts import services
from keyctl.counts.models import Count, CountCase, CountScan
from keyctl.counts.services.scanning import Scanned
from keyctl.lib.errors import Refused
from tests.keyctl.counts.countroom import CountRoom
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def refusals(outcomes: list[object]) -> list[str]:
    return [outcome.message for outcome in outcomes if isinstance(outcome, Refused)]


def test_a_serial_scanned_by_two_tablets_counts_once(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    count = room.begin()

    def read() -> Scanned:
        return services.scan_keys(actor=room.desk, count=count, text=copy.serial)

    outcomes = at_once(read, read, read)
    assert refusals(outcomes) == []
    assert CountScan.objects.filter(count=count).count() == 1
    readings = [reading for reading in outcomes if isinstance(reading, Scanned)]
    assert sorted(len(reading.added) for reading in readings) == [0, 0, 1]
    assert sorted(len(reading.repeated) for reading in readings) == [0, 1, 1]


def test_a_count_is_closed_once(room: CountRoom) -> None:
    room.stock(2)
    count = room.begin()
    outcomes = at_once(*[lambda: room.close(count)] * 2)
    assert refusals(outcomes) == ["Count 1 is counted by now. Look at it again."]
    assert CountCase.objects.filter(count=count).count() == 2
    assert Event.objects.filter(verb="count.closed").count() == 1


def test_a_cabinet_has_one_count_of_two_that_are_started(room: CountRoom) -> None:
    outcomes = at_once(lambda: room.begin(actor=room.desk), lambda: room.begin(actor=room.cast.locksmith))
    (message,) = refusals(outcomes)
    assert "is counting" in message
    assert Count.objects.count() == 1


def test_two_counts_started_at_once_have_two_numbers(room: CountRoom) -> None:
    outcomes = at_once(
        lambda: room.begin(scope="cabinet", cabinet=room.cabinet),
        lambda: room.begin(scope="cabinet", cabinet=room.other),
    )
    assert refusals(outcomes) == []
    assert sorted(Count.objects.values_list("number", flat=True)) == [1, 2]


def test_a_case_is_settled_once(room: CountRoom) -> None:
    case = room.missing()

    def explain() -> CountCase:
        return services.explain_case(
            actor=room.desk, case=case, how="moved", note="Hangs there", cabinet=room.other
        )

    (message,) = refusals(at_once(explain, explain))
    assert "explained already" in message
    assert Event.objects.filter(verb="key.moved").count() == 1


def test_a_key_issued_while_the_count_closes_is_no_false_difference(room: CountRoom) -> None:
    copies = room.stock(4)
    count = room.begin()
    room.scan(count, *copies[:3])
    at_once(lambda: room.give(copies[3]), lambda: room.close(count))
    (kinds,) = [set(CountCase.objects.filter(count=count).values_list("kind", flat=True))]
    handled = Count.objects.get(pk=count.pk).handled_count
    # Whoever came first: either it was still there and nobody saw it, or it had been issued.
    assert (kinds, handled) in [({"missing"}, 0), (set(), 1)]
