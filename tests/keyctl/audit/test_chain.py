"""Every event takes its place in the chain in the transaction that records it, and no other way."""

import hashlib
import json
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event, Head, Link
from keyctl.audit.services import new_event, record, record_many
from keyctl.lib.commits import before_commit
from tests import factories
from tests.cast import Cast, gather

pytestmark = pytest.mark.django_db(transaction=True)


def tell(words: str = "looked at a door", **facts: Any) -> Event:
    return record(actor=None, verb="door.seen", sentence=words, **facts)


def numbers() -> list[int]:
    return list(Link.objects.order_by("number").values_list("number", flat=True))


def framed(*fields: str) -> bytes:
    return b"".join(len(field.encode()).to_bytes(4, "big") + field.encode() for field in fields)


def expected_hash(before: bytes, number: int, event: Event) -> bytes:
    """The form of an entry, written down once more."""
    subjects = sorted(f"{each.kind} {each.subject_id}" for each in event.subjects.all())
    fields = framed(
        str(event.pk),
        event.at.strftime("%Y-%m-%dT%H:%M:%S.%f+00:00"),
        str(event.actor_id or ""),
        event.actor_name,
        str(event.site_id or ""),
        event.verb,
        event.sentence,
        json.dumps(event.detail, sort_keys=True, separators=(",", ":")),
        *subjects,
    )
    return hashlib.sha256(b"\0" + before + number.to_bytes(8, "big") + fields).digest()


def test_each_link_holds_to_the_event_and_to_the_link_before() -> None:
    cast = gather()
    doors = [factories.make_door(cast.north) for _ in range(2)]
    tell()
    record(
        actor=cast.locksmith,
        verb="door.seen",
        sentence="sah zwei Türen “an”",
        site_id=cast.north.pk,
        subjects=doors,
        detail={"z": [1, 2.5, None], "a": "ü\ud800" if connection.vendor == "sqlite" else "ü"},
    )
    before = bytes(32)
    for number, link in enumerate(Link.objects.select_related("event").order_by("number"), 1):
        event = Event.objects.get(pk=link.event.pk)
        assert (link.number, bytes(link.before)) == (number, before)
        before = bytes(link.hash)
        assert before == expected_hash(bytes(link.before), number, event)
    head = Head.objects.get()
    assert (head.number, bytes(head.hash)) == (2, before)


def test_a_change_without_its_link_is_no_change() -> None:
    """What fails at the end takes the whole transaction back, and the connection goes on."""
    with pytest.raises(LookupError):
        tell_and_fail(at_the_end=True)
    assert not Event.objects.exists()
    tell()
    assert numbers() == [1]


@transaction.atomic
def tell_and_fail(*, at_the_end: bool = False) -> None:
    tell("taken back")
    if not at_the_end:
        raise LookupError
    before_commit("default", _fail, None)


def _fail(_connection: Any, _items: Any) -> None:
    raise LookupError


def test_what_a_savepoint_takes_back_leaves_no_gap() -> None:
    with transaction.atomic():
        tell("one")
        for _ in range(3):
            with pytest.raises(LookupError):
                tell_and_fail()
        tell("two")
    with pytest.raises(LookupError):
        tell_and_fail()
    tell("three")
    told = Link.objects.order_by("number").values_list("number", "event__sentence")
    assert list(told) == [(1, "one"), (2, "two"), (3, "three")]


def test_events_in_bulk_are_linked_in_one_go() -> None:
    made = [(new_event(actor=None, verb="a.b", sentence=f"event {nth}"), ()) for nth in range(4500)]
    with transaction.atomic():
        assert record_many(made) == 4500
    assert numbers() == list(range(1, 4501))
    assert Head.objects.get().number == 4500


def test_an_event_that_no_service_writes_is_linked_as_well() -> None:
    Event.objects.create(at=timezone.now(), actor_name="x", verb="a.b", sentence="c")
    assert numbers() == [1]


def test_a_transaction_of_which_nothing_is_left_takes_no_lock() -> None:
    with transaction.atomic(), pytest.raises(LookupError):
        tell_and_fail()
    assert not Head.objects.exists()


def test_a_deferred_constraint_still_refuses_at_the_end(cast: Cast) -> None:
    with pytest.raises(IntegrityError):
        tell_of_no_event(cast)
    assert not Event.objects.exists()
    assert connection.get_autocommit()


@transaction.atomic
def tell_of_no_event(cast: Cast) -> None:
    event = tell()
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO audit_eventsubject (event_id, kind, subject_id) VALUES (%s, 'x', %s)",
            [event.pk + 77, cast.north.pk.hex],
        )


def test_outside_a_transaction_nothing_can_be_left_for_its_end() -> None:
    with pytest.raises(TypeError, match="transaction"):
        before_commit("default", _fail, None)


def test_a_history_without_a_fault_is_found_so() -> None:
    for nth in range(5):
        tell(f"event {nth}", detail={"nth": nth})
    sign_history()
    assert list(check_history()) == []
