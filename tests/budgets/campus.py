"""The process behind one size of ``bench_pages``: a campus on an ordinary morning, one of everything at
its first site, and every address of the product asked by whoever may."""

import time
from dataclasses import dataclass
from itertools import count
from typing import Any

from tests.bench.campus_asked import make_tables, place

TIMES = 3


@dataclass(frozen=True)
class Told:
    route: str
    who: str
    queries: int
    seconds: float
    scans: tuple[str, ...]


def serve(line: Any, doors: int) -> None:
    """What the process does: write the campus, then answer for one address after the other."""
    with place(doors):
        import django

        django.setup()
        from django.db import connection

        make_tables()
        _answer(line, doors)
        connection.close()


def _answer(line: Any, doors: int) -> None:
    from django.db import connection

    from tests import factories
    from tests.budgets.plans import Plans
    from tests.budgets.scene import ready
    from tests.cast import gather

    # The campus has the first codes.
    factories._number = count(1_000_000)
    cast = gather()
    with ready(cast) as asker:
        _grow(doors, cast.north)
        plans = Plans()
        line.send(connection.vendor)
        while (row := line.recv()) is not None:
            line.send(_told(asker, row, plans))
        line.send(sorted(plans.used))


def _grow(doors: int, site: Any) -> None:
    """So many doors with keys, work and history, a fifth of them at the site; everybody is at each."""
    from keyctl.lib.planner import look_anew
    from keyctl.places.models import Membership, Site
    from keyctl.search.models import Stale
    from tests.bench.campus import build
    from tests.bench.mornings import begin

    begin(build(doors, site))
    held = list(Membership.objects.filter(site=site))
    for other in Site.objects.exclude(pk=site.pk):
        rows = (Membership(user_id=row.user_id, site=other, role=row.role) for row in held)
        Membership.objects.bulk_create(rows, ignore_conflicts=True)
    # What is new is read before a search: `bench_search` measures that.
    Stale.objects.all().delete()
    look_anew()


def _told(asker: Any, row: Any, plans: Any) -> Told | str:
    from django.db import connection

    from tests.budgets.asking import ask, ask_as

    # SQLite works in this process: its own time tells no more of what else the machine does.
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    try:
        first = ask(asker, row)
        seconds, asked = [], first
        for _ in range(TIMES - 1):
            began = clock()
            asked = ask_as(asker, first.who, first.route) or first
            seconds.append(clock() - began)
    except Exception as fault:
        return f"{row.route}: {fault!r}"[:300]
    return Told(first.route, first.who, len(asked.read), min(seconds), tuple(plans.whole_tables(asked)))
