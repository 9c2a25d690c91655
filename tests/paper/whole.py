"""The part ``estate``: tables, pages and partitions at growing sizes of one estate."""

import os

from tests.bench.report import Report

SIZES = (10_000, 40_000, 160_000)


def run(report: Report, largest: int) -> None:
    if not os.environ.get("KEYCTL_DATABASE_URL", "").startswith("postgres"):
        raise SystemExit("Run this part by: bash .ci/postgres .venv/bin/python -m tests.paper estate")
    import django

    django.setup()
    from tests.paper import filling, history, sizes
    from tests.paper.estate import EVENTS_EACH
    from tests.paper.pages import asked_all, note_plans, tell_pages
    from tests.paper.telling import timed

    report.note(filling.run("SELECT version()")[0][0])
    filling.run("ALTER SYSTEM SET max_wal_size = '4GB'")
    filling.run("SELECT pg_reload_conf()")
    maker, by_doors, pages, last = filling.begin(), {}, {}, 0
    for doors in (size for size in SIZES if size <= largest):
        with timed(report, f"{doors:,} doors: written row by row into the indexes"):
            filling.fill(maker, (last, doors))
        by_doors[doors], last = sizes.measured(), doors
        sizes.tell_sizes(report, doors, by_doors[doors])
        pages[doors] = asked_all(maker)
    sizes.bloat(report, by_doors[last], last)
    history.measure(report, last * EVENTS_EACH)
    filling.run("DROP TABLE paper_plain_event, paper_plain_subject, paper_parts_event, paper_parts_subject")
    carried = sizes.carry_on(report, by_doors, largest)
    if largest > last:
        with timed(report, f"{largest:,} doors: all but history written, indexes made at the end"):
            filling.fill_quickly(maker, (last, largest), lambda table: not sizes.is_history(table))
        found = sizes.measured()
        sizes.tell_sizes(report, largest, found)
        sizes.hold_against(report, carried, found, largest)
        pages[largest] = asked_all(maker)
    note_plans(report, max(pages), pages[max(pages)])
    tell_pages(report, pages)
