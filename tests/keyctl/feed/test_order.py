"""Numbers come in the order of commits, so a reader who only looks further on never misses anything."""

import random
import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection, transaction

from keyctl.audit.services import record
from keyctl.feed.models import Change, Note
from keyctl.places.models import Door, Floor
from tests import factories
from tests.keyctl.feed.reading import Reader

pytestmark = pytest.mark.django_db(transaction=True)


def rename(door: Door, name: str) -> None:
    Door.objects.filter(pk=door.pk).update(name=name)


@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
def test_who_writes_first_and_commits_last_is_listed_last() -> None:
    """The one that began early and ends late would hide below what a reader has read meanwhile."""
    site = factories.make_site("NORTH")
    early, late = factories.make_door(site), factories.make_door(site)
    reader = Reader([site])
    reader.read_on()
    has_written, may_end = threading.Event(), threading.Event()

    def write_early() -> None:
        try:
            with transaction.atomic():
                rename(early, "written first")
                has_written.set()
                assert may_end.wait(20)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        writing = pool.submit(write_early)
        assert has_written.wait(20)
        # Nobody waits for whoever has written and not committed.
        rename(late, "committed first")
        assert reader.read_on() == [("door", late.pk, False)]
        may_end.set()
        writing.result(20)
    assert reader.read_on() == [("door", early.pk, False)]
    assert not Note.objects.exists()


WRITERS, ACTS = 4, 30


def test_nothing_is_missed_while_many_write_and_take_back() -> None:
    """Transactions of several steps, some with history, some taken back, while somebody reads on and on."""
    site = factories.make_site("NORTH")
    floor = factories.make_floor(site)
    shared = [factories.make_door(floor=floor) for _ in range(3)]
    reader, is_over = Reader([site], frozenset({"door"}), limit=5), threading.Event()

    def write(seed: int) -> None:
        luck = random.Random(seed)
        try:
            for nth in range(ACTS):
                _act(luck, floor, f"{seed}-{nth}", luck.choice(shared))
        finally:
            connection.close()

    def read() -> None:
        try:
            while not is_over.is_set():
                reader.read_page()
        finally:
            connection.close()

    with ThreadPoolExecutor(WRITERS + 1) as pool:
        reading = pool.submit(read)
        for writing in [pool.submit(write, seed) for seed in range(WRITERS)]:
            writing.result(60)
        is_over.set()
        reading.result(60)
    reader.read_on()
    assert reader.known == {("door", pk) for pk in Door.objects.values_list("pk", flat=True)}
    assert len(reader.numbers) == len(set(reader.numbers))
    assert reader.numbers == sorted(reader.numbers)
    assert not Note.objects.exists()
    assert Change.objects.filter(kind="door", deleted=False).count() == Door.objects.count()


def _act(luck: random.Random, floor: Floor, number: str, shared: Door) -> None:
    try:
        with transaction.atomic():
            made = Door.objects.create(floor=floor, number=number)
            if luck.random() < 0.5:
                rename(shared, number)
            if luck.random() < 0.3:
                made.delete()
            if luck.random() < 0.5:
                record(actor=None, verb="door.seen", sentence="looked", site_id=floor.building.site_id)
            if luck.random() < 0.2:
                raise LookupError
    except LookupError:
        return


def test_numbers_never_begin_again_from_below() -> None:
    site = factories.make_site("NORTH")
    doors = [factories.make_door(site) for _ in range(3)]
    last = Change.objects.latest("sequence").sequence
    for door in doors:
        door.delete()
    Change.objects.filter(kind="door").delete()
    factories.make_door(site)
    assert Change.objects.latest("sequence").sequence > last + 3


def test_two_that_change_the_same_things_crosswise_do_not_wait_for_each_other() -> None:
    """Both note the same order; neither holds anything of the list before it commits."""
    site = factories.make_site("NORTH")
    floors = [factories.make_floor(site) for _ in range(2)]
    start = threading.Barrier(2)

    def write(way: int) -> Any:
        try:
            start.wait(20)
            for nth in range(15):
                with transaction.atomic():
                    for floor in floors[::way]:
                        Door.objects.create(floor=floor, number=f"{way}/{nth}")
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        for writing in [pool.submit(write, way) for way in (1, -1)]:
            writing.result(60)
    assert Change.objects.filter(kind="door").count() == 60
