"""The rough answer on the page where doors are asked for: 40 of 100,000 doors with 126,667 keys, against the
same page without a door. The keys are those of ``bench_suggest``; pins and cuts are blanks.
"""

import os
import time
from collections.abc import Iterator
from statistics import median
from typing import Any

from tests.bench.installed import install
from tests.bench.report import Report, best_of, drawn, sized

BUILDINGS, DOORS_EACH = int(os.environ.get("KEYCTL_FLOORS", sized(200, 6))), 500
DOORS = BUILDINGS * DOORS_EACH
SELECTIVE, WINDOW = DOORS // 5, 256
ASKED = (40, 60)
TIMES = 25
MOST_S = 0.1
BATCH = 5000


def run(report: Report) -> None:
    install()
    from django.test import Client
    from django.urls import reverse

    from keyctl.feed import triggers
    from tests.cast import gather

    triggers.remove(_connection())
    cast, client = gather(), Client()
    seconds, doors = best_of(1, lambda: _campus(cast))
    report.note(f"{DOORS:,} doors and their keys written in {seconds:.0f} s")
    client.force_login(cast.requester)
    building = doors[DOORS // 2].floor.building
    here = [door for door in doors if door.floor.building == building]
    address = reverse("approvals:ask-building", args=[building.pk])
    for count in ASKED:
        chosen = [str(door.pk) for door in drawn(count).sample(here, count)]
        beyond, empty = _beyond(client, address, chosen)
        remark = f"{(beyond + empty) * 1e3:.0f} ms after {empty * 1e3:.0f} ms"
        report.at_most(
            f"preview of keys for {count} doors of {DOORS:,}, beyond none", beyond, MOST_S, remark=remark
        )


def _beyond(client: Any, address: str, chosen: list[str]) -> tuple[float, float]:
    """Processor seconds of the middle of many, asked in turns; and those of the page without a door."""

    def ask(doors: list[str]) -> float:
        # SQLite works in this process: its own time tells no more of what else the machine does.
        began = time.process_time()
        answer = client.post(address, {"preview": "1", "doors": doors}, headers={"HX-Request": "true"})
        if answer.status_code != 200:
            raise AssertionError(answer.status_code)
        return time.process_time() - began

    ask(chosen)
    pairs = [(ask([]), ask(chosen)) for _ in range(TIMES)]
    empty, full = (median(each) for each in zip(*pairs, strict=True))
    return full - empty, empty


def _connection() -> Any:
    from django.db import connection

    return connection


def _campus(cast: Any) -> list[Any]:
    from keyctl.lib.planner import look_anew
    from keyctl.places.models import Building, Door, Floor
    from tests.keyctl.keys.keyroom import bare_system

    doors = list[Any]()
    for nth in range(BUILDINGS):
        building = Building.objects.create(site=cast.north, code=f"B{nth:03}", name=f"House {nth}")
        floor = Floor.objects.create(building=building, label="0", level=0)
        doors += [Door(floor=floor, number=f"{place:04}") for place in range(DOORS_EACH)]
    Door.objects.bulk_create(doors, batch_size=BATCH)
    cores = _cores(cast, doors)
    _turns(bare_system(cast.north, actor=cast.administrator), cores)
    # As after every bulk work of the product.
    look_anew()
    return doors


def _cores(cast: Any, doors: list[Any]) -> list[Any]:
    from django.utils import timezone

    from keyctl.cores.models import Core
    from keyctl.places.models import Housing

    facts = {
        "site": cast.north,
        "format_id": "small-a2-7",
        "construction": "small-format",
        "place": "housing",
    }
    facts |= {"pinning": b"x", "pinned_at": timezone.now(), "pinned_by": cast.locksmith}
    housings = [Housing(door=door, kind="mortise", construction="small-format") for door in doors]
    Housing.objects.bulk_create(housings, batch_size=BATCH)
    cores = [Core(housing=housing, **facts) for housing in housings]
    return Core.objects.bulk_create(cores, batch_size=BATCH)


def _turns(system: Any, cores: list[Any]) -> None:
    from keyctl.cores.models import Turn
    from keyctl.systems.models import KeySymbol

    opened = list(_opened())
    keys = [
        KeySymbol(system=system, symbol=name, kind="change", level=0, bitting=b"", fingerprint=f"{nth:064}")
        for nth, (name, _) in enumerate(opened)
    ]
    KeySymbol.objects.bulk_create(keys, batch_size=BATCH)
    for first in range(0, len(keys), BATCH):
        pairs = zip(keys[first : first + BATCH], opened[first : first + BATCH], strict=True)
        turns = [(cores[at], key) for key, (_, opens) in pairs for at in opens]
        rows = [Turn(core=core, symbol=key, operates=True, withdraws=False) for core, key in turns]
        Turn.objects.bulk_create(rows, batch_size=BATCH)


def _opened() -> Iterator[tuple[str, list[int]]]:
    """Each key with the doors it opens: a key a door, masters over runs of doors, and selective ones."""
    rng = drawn()
    yield from ((f"C{door}", [door]) for door in range(DOORS))
    for size in (16, 256, 4096):
        for first in range(0, DOORS, size):
            yield f"M{size}-{first}", list(range(first, min(DOORS, first + size)))
    for nth in range(SELECTIVE):
        first = rng.randrange(DOORS - WINDOW)
        yield f"S{nth}", rng.sample(range(first, first + WINDOW), rng.randint(2, 39))
