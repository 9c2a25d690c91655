"""Another day on which a key comes back: what is refused, and what is no change."""

from datetime import timedelta

import pytest
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.keys.models import Custody, KeyCopy
from keyctl.keys.services.prolonging import change_due
from keyctl.lib.errors import Conflict
from tests.keyctl.keys.keyroom import KeyRoom


def test_a_key_that_is_back_gets_no_other_day(room: KeyRoom) -> None:
    copy = room.held()
    line = Custody.objects.get(copy=copy)
    room.take_back(KeyCopy.objects.get(pk=copy.pk))
    events = Event.objects.count()
    with pytest.raises(Conflict, match=r"is not with .* any more"):
        change_due(actor=room.desk, line=line, due_at=timezone.now() + timedelta(days=9))
    assert Custody.objects.get(pk=line.pk).due_at == line.due_at
    assert Event.objects.count() == events


def test_the_same_day_again_is_no_event(room: KeyRoom) -> None:
    line = Custody.objects.get(copy=room.held())
    version, events = KeyCopy.objects.get(pk=line.copy_id).version, Event.objects.count()
    change_due(actor=room.desk, line=line, due_at=line.due_at)
    assert KeyCopy.objects.get(pk=line.copy_id).version == version
    assert Event.objects.count() == events
