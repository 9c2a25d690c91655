"""Searching 100,000 doors against 1,000, each with its tag, in one run; what the search takes of the disk;
and writes with the triggers in place against the same without. SQLite, or PostgreSQL where
KEYCTL_DATABASE_URL names a server.
"""

import os
import random
import time
from collections.abc import Callable
from functools import partial
from typing import Any

from tests.bench.installed import install
from tests.bench.report import Report, best_of, sized

FLOORS, DOORS_EACH = int(os.environ.get("KEYCTL_FLOORS", sized(200, 6))), 500
TIMES = 5
WRITTEN = 20
WANTED_MOST = 1.05
NAMES = (
    "Lecture hall",
    "Seminar room",
    "Reading room",
    "Laboratory",
    "Workshop",
    "Archive",
    "Kitchen",
    "Office",
)


def run(report: Report) -> None:
    install()
    from tests.cast import gather

    cast = gather()
    small = _fill(cast, 2)
    few = _times(cast, small)
    large = _fill(cast, FLOORS - 2)
    many = _times(cast, large)
    for name, seconds in many.items():
        report.ratio(f"{FLOORS * DOORS_EACH:,} doors : 1,000, {name}", seconds, few[name], 0.01)
        report.note(f"{name}: {seconds * 1e3:.0f} ms, with 1,000 {few[name] * 1e3:.0f} ms")
    _writing(report, large)
    report.note(f"the search takes {_size() / 2**20:.0f} MiB")


def _fill(cast: Any, floors: int) -> list[Any]:
    from keyctl.places.models import Door
    from keyctl.search.models import Stale
    from keyctl.search.services import read_what_changed
    from tests.factories import make_floor

    rng, made = random.Random(floors), []
    for _ in range(floors):
        floor = make_floor(cast.north)
        rows = [
            Door(floor=floor, number=f"{nth // 100}.{nth % 100:02}", name=f"{rng.choice(NAMES)} {nth}")
            for nth in range(DOORS_EACH)
        ]
        made += Door.objects.bulk_create(rows)
    while Stale.objects.exists():
        read_what_changed()
    return made


def _times(cast: Any, doors: list[Any]) -> dict[str, float]:
    from keyctl.search.telling import answer

    door = doors[len(doors) // 2]
    tag, building = door.tag, door.building.code
    asked = {
        "a tag": tag,
        "a tag with an error": tag[:4] + tag[5] + tag[4] + tag[6:],
        "a building and a number": f"{building} {door.number}",
        "a name with an error": f"{building} semianr",
        "a common word": "room",
        "two common words": "seminar room",
        "nothing": "zzzz qqqq",
    }
    return {name: best_of(TIMES, partial(answer, cast.locksmith, text))[0] for name, text in asked.items()}


def _size() -> int:
    """On SQLite what a copy of the database is larger than one without."""
    from django.db import connection

    tables = ("entry", "word", "posting", "trace", "stale")
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            sizes = " + ".join(f"pg_total_relation_size('search_{name}')" for name in tables)
            cursor.execute(f"SELECT {sizes}")
            return int(cursor.fetchone()[0])
        whole = _pages(cursor)
        for name in tables:
            cursor.execute(f"DELETE FROM search_{name}")  # noqa: S608
        return whole - _pages(cursor)


def _pages(cursor: Any) -> int:
    cursor.execute("VACUUM")
    cursor.execute("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
    return int(cursor.fetchone()[0])


def _writing(report: Report, doors: list[Any]) -> None:
    """The fields that a swap writes of a core and a door's new name, each in its own transaction."""
    from django.db import connection

    from keyctl.feed import triggers
    from keyctl.search import watching

    def facts() -> None:
        for door in doors[:WRITTEN]:
            door.save(update_fields=["is_egress", "note"])

    def names() -> None:
        for door in doors[:WRITTEN]:
            door.save(update_fields=["name"])

    for name, write in (("what is no word", facts), ("a name", names)):
        best = {True: float("inf"), False: float("inf")}
        for _ in range(40):
            for is_watched in (True, False):
                _watch(connection, triggers, watching, is_watched)
                best[is_watched] = min(best[is_watched], _spent(connection, write), _spent(connection, write))
        report.ratio(f"writing {name}, watched : not", best[True], best[False], 1 / WANTED_MOST)
        report.note(f"writing {name} takes {best[True] / best[False]:.3f} of what it took before")
    triggers.install(connection)


def _spent(connection: Any, write: Callable[[], None]) -> float:
    """SQLite works in this process: its own time has no wait for the disk in it, which varies by more."""
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    began = clock()
    write()
    return clock() - began


def _watch(connection: Any, triggers: Any, watching: Any, is_watched: bool) -> None:
    triggers.install(connection)
    if not is_watched:
        with connection.cursor() as cursor:
            for name, _, _, _ in watching.triggers(connection.vendor):
                # With the function its trigger goes along.
                what = (
                    f"FUNCTION {name}() CASCADE" if connection.vendor == "postgresql" else f"TRIGGER {name}"
                )
                cursor.execute(f"DROP {what}")
