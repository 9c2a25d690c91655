"""The checks of history that come round: what they find, whom they tell, and how often."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.db import transaction
from django.utils import timezone
from pytest_django import Settings

from keyctl.audit import guards
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history, check_newest
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.jobs.routines import run_by_hand
from keyctl.notices.models import Notice
from keyctl.operations.history.rounds import check_every_entry, check_new_entries
from tests.cast import Cast
from tests.flushing import change_unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings: Settings, tmp_path: Path) -> None:
    settings.HISTORY_KEY_FILE = tmp_path / "history.key"
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"


def tell(count: int) -> None:
    ids = [record(actor=None, verb="a.b", sentence=f"did {nth}").pk for nth in range(count)]
    link_events(transaction.get_connection(), ids)


def signed(count: int, at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    tell(count)
    with monkeypatch.context() as patch:
        patch.setattr(timezone, "now", lambda: at)
        sign_history()
    link_events(transaction.get_connection(), [Event.objects.latest("pk").pk])


NOW = datetime(2031, 5, 1, 12, 0, tzinfo=timezone.get_default_timezone())
DAY_BEFORE = NOW - timedelta(days=1)


@pytest.fixture
def history(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> int:
    """Entries 1-7 signed the day before with the one that tells of it, 8-13 half an hour ago; two are new."""
    link_events(transaction.get_connection(), list(Event.objects.values_list("pk", flat=True)))
    begun = Event.objects.count()
    signed(6, DAY_BEFORE, monkeypatch)
    signed(5, NOW - timedelta(minutes=30), monkeypatch)
    tell(2)
    return begun


def test_a_sound_history_says_how_far_it_goes(history: int) -> None:
    last = history + 15
    for look in (check_new_entries, check_every_entry):
        assert look(NOW) == f"Nothing is wrong with the history up to entry {last}."
    assert not Notice.objects.exists()


def test_every_hour_what_is_new_is_read_and_of_the_rest_the_hashes(history: int) -> None:
    newest, old = history + 10, history + 3
    event = "(SELECT event_id FROM audit_link WHERE number = %s)"
    change_unguarded(f"UPDATE audit_event SET sentence = 'did nothing' WHERE id = {event}", newest)  # noqa: S608
    hourly = list(check_newest(NOW - timedelta(hours=6)))
    assert f"entry {newest}: it is not what was recorded." in hourly
    change_unguarded(f"UPDATE audit_event SET sentence = 'did nothing' WHERE id = {event}", old)  # noqa: S608
    assert list(check_newest(NOW - timedelta(hours=6))) == hourly
    assert f"entry {old}: it is not what was recorded." in list(check_history())


@pytest.mark.parametrize(
    "edit",
    [
        "UPDATE audit_link SET hash = before WHERE number = %s",
        "DELETE FROM audit_link WHERE number = %s",
        "UPDATE audit_link SET number = number + 1000 WHERE number = %s",
    ],
)
def test_an_old_hash_that_was_changed_is_found_every_hour(history: int, edit: str) -> None:
    change_unguarded(edit, history + 3)
    assert list(check_newest(NOW - timedelta(hours=6)))


def test_without_a_checkpoint_that_is_old_enough_all_is_read(cast: Cast) -> None:
    tell(3)
    change_unguarded("UPDATE audit_event SET sentence = 'did nothing'")
    assert list(check_newest(NOW))


def test_what_is_found_is_told_to_officers_once_a_day(history: int, cast: Cast) -> None:
    change_unguarded("UPDATE audit_event SET sentence = 'did nothing' WHERE verb = 'a.b'")
    said = check_every_entry(NOW)
    assert said.startswith("Findings: ")
    assert "Keep the database" in said
    [notice] = Notice.objects.all()
    assert (notice.to, notice.kind) == (cast.officer.email, "history")
    assert "it is not what was recorded" in notice.body
    assert Event.objects.filter(verb="history.found-wrong").count() == 1
    link_events(transaction.get_connection(), [Event.objects.latest("pk").pk])
    check_every_entry(NOW + timedelta(hours=1))
    assert Notice.objects.count() == 1
    assert Event.objects.filter(verb="history.found-wrong").count() == 1
    check_every_entry(NOW + timedelta(days=1))
    assert Notice.objects.count() == 2


def test_the_worker_does_both(cast: Cast) -> None:
    for name in ("history.check", "history.check-whole"):
        done = run_by_hand(name)
        assert (done.failed, done.last_sentence[:16]) == (False, "Nothing is wrong")


def test_a_signed_part_that_was_made_anew_is_found_every_hour(history: int, settings: Settings) -> None:
    """Every hash of it, in a chain that holds: the signed tree is another."""
    change_unguarded("UPDATE audit_event SET sentence = 'did nothing' WHERE verb = 'a.b'")
    ids = list(Event.objects.order_by("link__number").values_list("pk", flat=True))
    guards.remove(transaction.get_connection())
    with transaction.get_connection().cursor() as cursor:
        cursor.execute("DELETE FROM audit_link")
        cursor.execute("DELETE FROM audit_head")
    link_events(transaction.get_connection(), sorted(ids))
    guards.install(transaction.get_connection())
    found = list(check_newest(NOW - timedelta(hours=6)))
    assert any("are not those that were signed" in finding for finding in found)
