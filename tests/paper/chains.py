"""The part ``chain``: how many entries of history a second writers append, in one chain and in one for
each site.

A server that waits for the disk; each transaction changes a door and records it, with the triggers of
the feed and without. A chain of a site has a head and numbers of its own; a checkpoint binds all heads
by a tree over them.
"""

import time
from contextlib import ExitStack
from typing import Any
from unittest.mock import patch

from tests.bench.report import Report, best_of
from tests.paper.telling import tell

SECONDS = 3.0
WRITERS = (1, 2, 4)
IN_BULK, LEAVES, OF_SITES = 250, 1_000_000, 20

HEADS = """
    CREATE TABLE paper_head (site uuid PRIMARY KEY, number bigint NOT NULL, hash bytea NOT NULL);
    CREATE TABLE paper_link (site uuid, number bigint, event_id bigint UNIQUE, before bytea NOT NULL,
        hash bytea NOT NULL, PRIMARY KEY (site, number))
"""


def run(report: Report, _largest: int) -> None:
    from tests.paper.server import product, together

    with product():
        _prepare()
        for feed in (True, False):
            _feed(is_on=feed)
            for by_site in (False, True):
                for writers in WRITERS:
                    found = together(writers, write, by_site, 1)
                    _tell(report, _name(by_site=by_site, feed=feed), writers, found)
        found = together(1, write, False, IN_BULK)
        _tell(report, f"one chain, {IN_BULK} entries a transaction", 1, found)
        _bare(report)
    _checkpoints(report)


def _name(*, by_site: bool, feed: bool) -> str:
    chain = "a chain for each site" if by_site else "one chain"
    return f"{chain}, {'with the feed' if feed else 'without the feed'}"


def _tell(report: Report, name: str, writers: int, found: list[Any]) -> None:
    entries = sum(done for done, _, _ in found) / SECONDS
    held, waited = (sum(each[place] for each in found) / len(found) * 1e3 for place in (1, 2))
    remark = f"the head held {held:.2f} ms, waited for {waited:.2f} ms, on the average"
    tell(report, f"{name}: {writers} writer{'s' * (writers > 1)}", entries, "entries/s", remark)


def _prepare() -> None:
    from django.db import connection

    from keyctl.audit import guards
    from keyctl.places.models import Site
    from tests.factories import make_door
    from tests.paper import filling

    filling.begin()
    guards.install(connection)
    filling.run(HEADS)
    for site in Site.objects.order_by("code")[: max(WRITERS)]:
        make_door(site)


def _feed(*, is_on: bool) -> None:
    from django.db import connection

    from keyctl.feed import triggers

    if is_on:
        triggers.install(connection)
    else:
        triggers.remove(connection)


def write(nth: int, barrier: Any, by_site: bool, in_bulk: int) -> tuple[int, float, float]:
    """(entries, seconds that the head was held and that it was waited for, a transaction)."""
    import django

    django.setup()
    from django.db import connection

    from keyctl.places.models import Door

    door = Door.objects.select_related("floor__building").order_by("pk")[nth]
    clock = Clock()
    with ExitStack() as stack:
        if by_site:
            stack.enter_context(patch("keyctl.audit.models.link_events", link_by_site))
        for head in ("keyctl.audit.chain._take_head", "tests.paper.chains.take_head_of"):
            stack.enter_context(patch(head, clock.around(_found(head))))
        change(door, in_bulk)
        barrier.wait()
        began, done = time.perf_counter(), 0
        clock.clear()
        while time.perf_counter() - began < SECONDS:
            change(door, in_bulk)
            clock.let_go()
            done += in_bulk
    connection.close()
    return done, clock.held / clock.times, clock.waited / clock.times


def _found(name: str) -> Any:
    import importlib

    module, _, attribute = name.rpartition(".")
    return getattr(importlib.import_module(module), attribute)


def change(door: Any, in_bulk: int) -> None:
    """As a service does: the row, then its history, at once or many entries in one transaction."""
    from django.db import transaction

    from keyctl.audit.services import new_event, record, record_many

    facts = {
        "actor": None,
        "verb": "door.changed",
        "sentence": f"changed door {door}",
        "site_id": door.site.pk,
    }
    with transaction.atomic():
        door.save(update_fields=["name"])
        if in_bulk == 1:
            record(**facts, subjects=[door])
        else:
            record_many([(new_event(**facts), (door,)) for _ in range(in_bulk)])


class Clock:
    """When the lock of a head was asked for, given and let go."""

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        self.held = self.waited = 0.0
        self.times, self.taken_at = 0, 0.0

    def around(self, take: Any) -> Any:
        def timed(*arguments: Any) -> Any:
            began = time.perf_counter()
            head = take(*arguments)
            self.taken_at = time.perf_counter()
            self.waited += self.taken_at - began
            self.times += 1
            return head

        return timed

    def let_go(self) -> None:
        self.held += time.perf_counter() - self.taken_at


def link_by_site(connection: Any, ids: list[Any]) -> None:
    """The product's entries and hashes; heads are taken in one order, so that nobody waits in a circle."""
    from keyctl.audit.entries import events_as_entries

    entries = events_as_entries(connection, sorted(set(ids)))
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for site in sorted({entry["site"] for entry in entries.values()}):
            _append(cursor, site, {pk: entry for pk, entry in entries.items() if entry["site"] == site})


def _append(cursor: Any, site: str, entries: dict[int, Any]) -> None:
    from keyctl.audit.verifier import entry_hash

    number, latest = take_head_of(cursor, site)
    rows = []
    for pk, entry in entries.items():
        before, number = latest, number + 1
        latest = entry_hash(before, number, entry)
        rows.append((site, number, pk, before, latest))
    cursor.executemany(
        "INSERT INTO paper_link (site, number, event_id, before, hash) VALUES (%s, %s, %s, %s, %s)", rows
    )
    cursor.execute("UPDATE paper_head SET number = %s, hash = %s WHERE site = %s", (number, latest, site))


def take_head_of(cursor: Any, site: str) -> tuple[int, bytes]:
    from keyctl.audit.verifier import BEGINNING

    cursor.execute("INSERT INTO paper_head VALUES (%s, 0, %s) ON CONFLICT DO NOTHING", (site, BEGINNING))
    cursor.execute("SELECT number, hash FROM paper_head WHERE site = %s FOR UPDATE", (site,))
    number, latest = cursor.fetchone()
    return number, bytes(latest)


def _bare(report: Report) -> None:
    """What a commit that waits for the disk takes here."""
    from tests.paper.filling import run as run_sql

    run_sql("CREATE TABLE paper_bare (n integer)")
    seconds, _ = best_of(50, lambda: (run_sql("INSERT INTO paper_bare VALUES (1)"), 1)[1])
    tell(report, "a commit of one row with nothing around it", seconds * 1e3, "ms")


def _checkpoints(report: Report) -> None:
    """Signing reads every hash again today; a tree whose edge is kept takes the new ones alone."""
    from keyctl.audit.merkle import root_of
    from keyctl.audit.verifier import Tree, leaf_hash

    leaves = [leaf_hash(nth.to_bytes(8, "big")) for nth in range(LEAVES)]
    seconds, root = best_of(1, lambda: root_of(leaves))
    tell(report, f"a checkpoint's root over {LEAVES:,} entries, made anew", seconds, "s")
    tree = Tree(leaves[:-1000])

    def go_on() -> bytes:
        for leaf in leaves[-1000:]:
            tree.add(leaf)
        return tree.root()

    seconds, same = best_of(1, go_on)
    assert same == root
    tell(report, "the same root, 1,000 entries added to a tree whose edge was kept", seconds * 1e3, "ms")
    heads = leaves[:OF_SITES]
    seconds, _ = best_of(5, lambda: root_of(heads))
    tell(report, f"the root over the roots of {OF_SITES} sites", seconds * 1e3, "ms")
