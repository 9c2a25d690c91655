"""History is written once and never changed."""

from datetime import UTC, datetime
from unittest.mock import patch

import pytest

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.audit.services import record
from tests import factories
from tests.cast import Cast


def test_it_belongs_to_each_of_its_subjects(cast: Cast) -> None:
    doors = [factories.make_door(cast.north) for _ in range(2)]
    event = record(actor=cast.locksmith, verb="door.seen", sentence="looked at two doors", subjects=doors)
    assert [list(history_of(door)) for door in doors] == [[event], [event]]


def test_it_keeps_the_name_the_actor_had(cast: Cast) -> None:
    event = record(actor=cast.locksmith, verb="door.seen", sentence="looked at a door")
    cast.locksmith.display_name = "Somebody else"
    cast.locksmith.save()
    event.refresh_from_db()
    assert event.actor_name == "Locksmith"


def test_an_event_cannot_be_changed(cast: Cast) -> None:
    event = record(actor=cast.locksmith, verb="door.seen", sentence="looked at a door")
    event.sentence = "did nothing"
    with pytest.raises(TypeError, match="append-only"):
        event.save()


def test_an_event_cannot_be_taken_out(cast: Cast) -> None:
    event = record(actor=cast.locksmith, verb="door.seen", sentence="looked at a door")
    with pytest.raises(TypeError, match="append-only"):
        event.delete()


def test_events_cannot_be_changed_or_taken_out_in_bulk(cast: Cast) -> None:
    record(actor=cast.locksmith, verb="door.seen", sentence="looked at a door")
    with pytest.raises(TypeError):
        Event.objects.all().update(sentence="did nothing")
    with pytest.raises(TypeError):
        Event.objects.all().delete()


def test_what_was_recorded_last_stands_first_though_the_clock_was_set_back(cast: Cast) -> None:
    with patch("django.utils.timezone.now", return_value=datetime(2030, 3, 1, 12, tzinfo=UTC)):
        record(actor=cast.locksmith, verb="test.first", sentence="was first", subjects=[cast.north])
    with patch("django.utils.timezone.now", return_value=datetime(2030, 2, 28, 12, tzinfo=UTC)):
        record(actor=cast.officer, verb="test.second", sentence="was second", subjects=[cast.north])
    assert [event.verb for event in history_of(cast.north)[:2]] == ["test.second", "test.first"]
