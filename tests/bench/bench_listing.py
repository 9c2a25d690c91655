"""The list of doors as people may want it, against the list with plain columns that it was: 100,000 doors.

Both read the same page of the same database in one process, in turn; the quicker half counts. The plain one
is its template of before, kept here: one table, no choice, no ticks.
"""

import os
import time
from collections.abc import Callable
from statistics import median
from typing import TYPE_CHECKING, Any

import django

from tests.bench.installed import from_the_models
from tests.bench.report import Report, sized

if TYPE_CHECKING:
    from django.test import RequestFactory

    from keyctl.accounts.models import User

DOORS = int(os.environ.get("KEYCTL_LIST_DOORS", sized(100_000, 3_000)))
TIMES, ROWS = 9, 25
WANTED = 1 / 1.3

PLAIN = """{% load i18n %}<table class="table table-stack"><thead><tr><th scope="col">Door</th></tr></thead>
<tbody>{% for door in page %}{% include "cores/_estate_row.html" %}{% endfor %}</tbody></table>
{% include "_pager.html" with target="#doors" label="Pages of doors" %}"""
OURS = """{% include "listing/_bar.html" %}
{% include "listing/_table.html" with caption="Doors" target="#doors" %}
{% include "_pager.html" with target="#doors" label="Pages of doors" %}{% include "listing/_acts.html" %}"""


def run(report: Report) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    from_the_models()
    kept = setup_databases(verbosity=0, interactive=False)
    try:
        _measure(report)
    finally:
        teardown_databases(kept, verbosity=0)


def _measure(report: Report) -> None:
    from django.test import RequestFactory

    user = _campus()
    asked = RequestFactory()
    for words in ("", "page=2000", "q=lab", "sort=door", "sort=-room", "sort=door_class"):
        plain_words = "&".join(word for word in words.split("&") if not word.startswith("sort"))
        ours, plain = _timed(
            lambda words=words: _ours(asked, user, words),  # type: ignore[misc]
            lambda words=plain_words: _plain(asked, user, words),  # type: ignore[misc]
        )
        report.ratio(f"{DOORS:,} doors, ?{words}: ours, plain columns", ours, plain, WANTED)


def _campus() -> "User":
    from keyctl.places.models import Building, Door, Floor, Membership, Site
    from tests import factories

    site = Site.objects.create(code="BIG", name="Big")
    user = factories.make_user("smith")
    Membership.objects.create(user=user, site=site, role="locksmith")
    houses = Building.objects.bulk_create(
        Building(site=site, code=f"B{n}", name=f"House {n}") for n in range(50)
    )
    floors = Floor.objects.bulk_create(
        Floor(building=b, label=f"{n}", level=n) for b in houses for n in range(10)
    )
    rooms = ("Lab", "Office", "Store", "Plant room")
    Door.objects.bulk_create(
        (Door(floor=floors[n % len(floors)], number=f"{n:06}", name=rooms[n % 4]) for n in range(DOORS)),
        batch_size=2000,
    )
    return user


def _ours(asked: "RequestFactory", user: "User", words: str) -> str:
    from keyctl.cores.lists import DOORS as LIST
    from keyctl.listing.shown import shown_list

    request: Any = _request(asked, user, words)
    shown = shown_list(request, LIST)
    return _page(request, shown.ordered(LIST.rows(user, shown.said)), OURS, shown=shown, query=shown.query)


def _plain(asked: "RequestFactory", user: "User", words: str) -> str:
    from keyctl.cores.listing import find_doors

    request: Any = _request(asked, user, words)
    return _page(request, find_doors(user, request.GET.get("q", "")), PLAIN, query="")


def _request(asked: "RequestFactory", user: "User", words: str) -> Any:
    request: Any = asked.get(f"/estate/?{words}")
    request.user = user
    return request


def _page(request: Any, rows: Any, template: str, **facts: Any) -> str:
    from django.core.paginator import Paginator
    from django.template import engines

    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    made: Any = engines["django"].from_string(template)
    return str(made.render(facts | {"page": page}, request))


def _timed(*works: Callable[[], str]) -> list[float]:
    spent: list[list[float]] = [[] for _ in works]
    for _ in range(TIMES):
        for work, seconds in zip(works, spent, strict=True):
            began = time.perf_counter()
            work()
            seconds.append(time.perf_counter() - began)
    return [median(sorted(seconds)[: TIMES // 2 + 1]) for seconds in spent]
