"""The feed of changes over 100,000 doors through the test client: its first page against its last, a page for
a program of one small site against one for a program of the large one, and rows written with the triggers in
place against the same rows without. SQLite, or PostgreSQL where KEYCTL_DATABASE_URL names a server.
"""

import os
import time
from typing import Any

from tests.bench.installed import install
from tests.bench.report import Report, best_of, sized

FLOORS, DOORS_EACH = int(os.environ.get("KEYCTL_FLOORS", sized(200, 6))), 500
DOORS = FLOORS * DOORS_EACH
LIMIT = 200
TIMES = 25
WANTED_MOST = 1.3
WRITTEN = 200


def run(report: Report) -> None:
    install()
    from keyctl.places.models import Door
    from tests.api.client import make_api
    from tests.cast import gather
    from tests.factories import make_door, make_floor, make_user

    cast = gather()
    floors = [make_floor(cast.north) for _ in range(FLOORS)]
    seconds, _ = best_of(1, lambda: _fill(floors))
    report.note(f"{DOORS:,} doors listed as they were written, in {seconds:.1f} s")
    api = make_api(cast.administrator, cast.north)
    first, last = _address(""), _address(_cursor_near_the_end(api))
    one, other = _sides(api, first, last)
    report.ratio(f"a page of {LIMIT}, the last : the first", other, one, 1 / WANTED_MOST)
    report.note(f"the last costs {other / one:.2f} of the first (wanted at most {WANTED_MOST})")
    make_door(cast.south)
    administrator = make_user("south", site=cast.south, role="administrator")  # type: ignore[arg-type]
    theirs = make_api(administrator, cast.south)
    seconds, _ = best_of(TIMES, lambda: theirs.get("changes/", limit=LIMIT))
    report.note(f"a page that passes over 20,000 rows of others: {seconds * 1e3:.1f} ms")
    _writing(report, list(Door.objects.all()[:WRITTEN]))


def _fill(floors: list[Any]) -> None:
    from keyctl.places.models import Door

    for floor in floors:
        Door.objects.bulk_create([Door(floor=floor, number=f"{nth:03}") for nth in range(DOORS_EACH)])


def _address(since: str) -> dict[str, Any]:
    return {"limit": LIMIT, "kinds": "door"} | ({"since": since} if since else {})


def _cursor_near_the_end(api: Any) -> str:
    """Read on to the place after which one whole page is left."""
    answer = api.get("changes/", **_address("")).json()
    since, pages = answer["since"], 1
    while answer["next"]:
        before, since = since, answer["since"]
        answer = api.follow(answer["next"]).json()
        pages += 1
    if pages < DOORS // LIMIT:
        raise AssertionError(pages)
    return str(before)


def _sides(api: Any, first: dict[str, Any], last: dict[str, Any]) -> tuple[float, float]:
    """In turns, so that both have the same machine."""
    best = [float("inf"), float("inf")]
    for _ in range(TIMES):
        for side, query in enumerate((first, last)):
            began = time.perf_counter()
            answer = api.get("changes/", **query)
            seconds = time.perf_counter() - began
            if len(answer.json()["results"]) != LIMIT:
                raise AssertionError(answer.content)
            best[side] = min(best[side], seconds)
    return best[0], best[1]


def _writing(report: Report, doors: list[Any]) -> None:
    """One door a transaction, as a page changes them."""
    from django.db import connection

    from keyctl.feed import triggers

    def write() -> None:
        for door in doors:
            door.save(update_fields=["name"])

    watched, plain = float("inf"), float("inf")
    for _ in range(5):
        triggers.install(connection)
        watched = min(watched, best_of(2, write)[0])
        triggers.remove(connection)
        plain = min(plain, best_of(2, write)[0])
    triggers.install(connection)
    each = (watched - plain) / len(doors)
    report.note(
        f"listing a change costs {each * 1e6:.0f} µs of a bare write of {plain / len(doors) * 1e6:.0f} µs"
    )
