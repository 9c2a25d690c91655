"""Work that comes round: done when due, once, and what came of it is told."""

from datetime import datetime, timedelta
from functools import partial

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.jobs import routines, worker
from keyctl.jobs.models import Routine
from keyctl.lib.errors import Refused
from tests.cast import Cast
from tests.keyctl.jobs.conftest import SECRET
from tests.keyctl.jobs.test_two_workers_at_once import both

DAILY = timedelta(days=1)


@pytest.fixture(autouse=True)
def no_others(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """Only what a test registers; ``sweep`` notes down when it was done."""
    monkeypatch.setattr(routines, "_kinds", {})
    done: list[datetime] = []

    def sweep(now: datetime) -> str:
        done.append(now)
        return f"Swept {len(done)} times."

    routines.register_routine("sweep", "Sweep the floor", sweep, every=DAILY)
    return done


def fail(_now: datetime) -> str:
    raise ValueError(f"the cuts are {SECRET}")


def refuse(_now: datetime) -> str:
    raise Refused("There is no broom. Buy one.")


@pytest.mark.django_db
def test_a_routine_is_done_at_first_sight_and_then_when_it_is_due(no_others: list[datetime]) -> None:
    now = timezone.now()
    early, due = now + DAILY - timedelta(seconds=1), now + DAILY
    assert [routines.run_due(at) for at in (now, now, early, due)] == [1, 0, 0, 1]
    assert no_others == [now, due]
    row = Routine.objects.get()
    assert (row.last_sentence, row.failed, row.last_run_at) == ("Swept 2 times.", False, due)
    assert row.next_at == due + DAILY


@pytest.mark.django_db
def test_what_fails_is_told_without_the_words_of_the_exception_and_tried_again_soon(
    caplog: pytest.LogCaptureFixture,
) -> None:
    routines.register_routine("sweep", "Sweep the floor", fail, every=DAILY)
    now = timezone.now()
    routines.run_due(now)
    row = Routine.objects.get()
    assert row.failed
    assert row.next_at == now + timedelta(hours=1)
    assert SECRET not in row.last_sentence + caplog.text
    assert "test_routines.py" in caplog.text


@pytest.mark.django_db
def test_one_that_fails_does_not_keep_the_others_from_their_turn(no_others: list[datetime]) -> None:
    routines.register_routine("a-first", "Fails", fail, every=DAILY)
    assert routines.run_due() == 2
    assert len(no_others) == 1


@pytest.mark.django_db
def test_a_refusal_is_told_as_it_stands() -> None:
    routines.register_routine("sweep", "Sweep the floor", refuse, every=DAILY)
    assert routines.run_by_hand("sweep").last_sentence == "There is no broom. Buy one."


@pytest.mark.django_db
def test_what_a_dead_worker_left_is_taken_up_after_a_while() -> None:
    now = timezone.now()
    routines.run_due(now)
    Routine.objects.update(claimed_at=now, next_at=now)
    assert routines.run_due(now + routines.GIVEN_UP_AFTER) == 0
    assert routines.run_due(now + routines.GIVEN_UP_AFTER + timedelta(seconds=1)) == 1


@pytest.mark.django_db
def test_by_hand_one_is_done_though_it_is_not_due(
    no_others: list[datetime], capsys: pytest.CaptureFixture[str]
) -> None:
    routines.run_due()
    call_command("run_routine", "sweep")
    assert "Swept 2 times." in capsys.readouterr().out
    with pytest.raises(CommandError, match="Known are: sweep"):
        call_command("run_routine", "mop")
    Routine.objects.update(claimed_at=timezone.now())
    with pytest.raises(CommandError, match="A worker is at"):
        call_command("run_routine", "sweep")


@pytest.mark.django_db(transaction=True)
def test_of_two_workers_one_does_it(no_others: list[datetime]) -> None:
    now = timezone.now()
    assert sorted(both(lambda: routines.run_due(now))) == [0, 1]
    assert len(no_others) == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_workers_one_does_each_round(no_others: list[datetime]) -> None:
    """Ten rounds on one routine that is due again each time: never done twice in a round."""
    now = timezone.now()
    for day in range(10):
        at = now + day * DAILY
        both(partial(routines.run_due, at))
    assert no_others == [now + day * DAILY for day in range(10)]


@pytest.mark.django_db(transaction=True)
def test_the_worker_looks_after_them(no_others: list[datetime]) -> None:
    worker.work(until_empty=True)
    assert len(no_others) == 1


@pytest.mark.django_db
def test_the_page_tells_when_each_ran_last_and_warns_where_no_worker_looks(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.administrator)
    page = client.get(reverse("jobs:routines")).content.decode()
    assert "Never" in page
    assert "No worker has looked" in page
    routines.run_due()
    page = client.get(reverse("jobs:routines")).content.decode()
    assert "Swept 1 times." in page
    assert "No worker has looked" not in page
    Routine.objects.update(next_at=timezone.now() - timedelta(minutes=61))
    assert "No worker has looked" in client.get(reverse("jobs:routines")).content.decode()


@pytest.mark.django_db
def test_only_administrators_see_the_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    assert client.get(reverse("jobs:routines")).status_code == 403


@pytest.mark.django_db
@pytest.mark.parametrize("ahead", [timedelta(days=2), timedelta(days=400)])
def test_a_clock_that_was_ahead_and_is_set_back_puts_nothing_off(
    ahead: timedelta, no_others: list[datetime]
) -> None:
    now = timezone.now()
    assert [routines.run_due(at) for at in (now + ahead, now, now + DAILY)] == [1, 1, 1]
    assert no_others == [now + ahead, now, now + DAILY]


@pytest.mark.django_db
def test_two_clocks_that_differ_by_a_little_do_it_once(no_others: list[datetime]) -> None:
    now = timezone.now()
    assert [routines.run_due(at) for at in (now + timedelta(minutes=5), now)] == [1, 0]
    assert len(no_others) == 1


@pytest.mark.django_db
def test_one_whose_worker_died_is_done_by_the_next_that_night() -> None:
    """The day when it is due again is written when it is done."""
    now, done = timezone.now(), list[datetime]()

    def work(at: datetime) -> str:
        if not done:
            done.append(at)
            raise OperationalError("database or disk is full")
        return "Swept."

    routines.register_routine("sweep", "Sweep the floor", work, every=DAILY)
    with pytest.raises(OperationalError):
        routines.run_due(now)
    later = now + timedelta(hours=2)
    assert [routines.run_due(at) for at in (later - timedelta(minutes=1), later)] == [0, 1]
    assert Routine.objects.get().next_at == later + DAILY
