"""What the chain costs: cores moved with their history, with it and without in turns; and checking it."""

import time
from typing import Any
from unittest.mock import patch

from tests.bench.installed import install
from tests.bench.report import Report, best_of, sized

MOVES = 60
TURNS = 8
ENTRIES = sized(100_000, 2_000)
# A chained move takes at most 1.6 times as long as one that is not.
WANTED = 0.6
# Every hour the hashes alone are held against the signed tree.
WANTED_OF_NEWEST = 3
MILLION_S = 30.0


def run(report: Report) -> None:
    install()
    _writing(report)
    _checking(report)


def _writing(report: Report) -> None:
    from keyctl.audit import models

    actor, core = _core()
    chained, plain = [], []
    for _ in range(TURNS):
        chained.append(_moves(actor, core))
        with patch.object(models, "before_commit", lambda *_: None):
            plain.append(_moves(actor, core))
    ours, theirs = min(chained) / MOVES, min(plain) / MOVES
    report.ratio("a move with its history, in the chain : without", ours, theirs, WANTED, f"best of {TURNS}")


def _core() -> tuple[Any, Any]:
    from tests import factories
    from tests.cast import gather

    cast = gather()
    system = factories.make_system(cast.north, actor=cast.locksmith)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    return cast.locksmith, core


def _moves(actor: Any, core: Any) -> float:
    from keyctl.cores.services import move_core

    began = time.perf_counter()
    for nth in range(MOVES):
        core.refresh_from_db()
        place = "bench" if nth % 2 else "shelf"
        if core.place != place:
            move_core(actor=actor, core=core, place=place, version=core.version)
    return time.perf_counter() - began


def _checking(report: Report) -> None:
    from django.db import connection
    from django.utils import timezone

    from keyctl.audit.chain import link_events
    from keyctl.audit.checking import check_history, check_newest
    from keyctl.audit.checkpoints import hashes, sign_history
    from keyctl.audit.merkle import inclusion_path
    from keyctl.audit.models import Event
    from keyctl.audit.services import new_event, record_many

    link_events(connection, list(Event.objects.filter(link=None).values_list("pk", flat=True)))
    events = [
        (new_event(actor=None, verb="a.b", sentence=f"did thing {nth}", detail={"nth": nth}), ())
        for nth in range(ENTRIES)
    ]
    written, _ = best_of(1, lambda: record_many(events))
    signed, checkpoint = best_of(1, sign_history)
    checked, found = best_of(2, lambda: list(check_history()))
    newest, of_newest = best_of(2, lambda: list(check_newest(timezone.now())))
    assert found == of_newest == []
    report.ratio("what is new checked : the whole", newest, checked, WANTED_OF_NEWEST, f"{ENTRIES:,} entries")
    proven, _ = best_of(3, lambda: inclusion_path(7, hashes(checkpoint["size"])))
    size = checkpoint["size"]
    report.note(f"{ENTRIES:,} events in bulk: written in {written:.1f} s, signed in {signed:.1f} s")
    # SQLite works in this process: its own time tells no more of what else the machine does.
    began = time.process_time()
    list(check_history())
    spent = time.process_time() - began
    remark = f"processor seconds; {size:,} checked in {spent:.1f} s, scaled up"
    report.at_most("a million entries checked", spent / size * 1e6, MILLION_S, remark=remark)
    report.note(f"a proof takes {proven * 1e3:.0f} ms")
