"""Eight writers on SQLite, each moving cores with their history: with the fair gate, and without it."""

import threading
import time
from typing import Any

from tests.bench.installed import install
from tests.bench.report import Report, bare_fsync, sized

WRITERS = 8
SECONDS = float(sized(8, 1))
WANTED_MAX = 3
FSYNCS = 300


def run(report: Report) -> None:
    folder = install()
    cores = _cores()
    gated = _moves(cores)
    ungated = _without_gate(cores)
    bare = bare_fsync(folder / "fsync", FSYNCS)
    report.ratio(f"longest wait of {WRITERS} writers, gate : none", max(gated), max(ungated), WANTED_MAX)
    for name, waits in (("with the gate", gated), ("without", ungated)):
        waits.sort()
        half, most = (waits[int(len(waits) * share)] * 1e3 for share in (0.5, 0.95))
        report.note(
            f"{name}: {len(waits) / SECONDS:,.0f} moves/s, half within {half:.0f} ms, "
            f"95 % within {most:.0f} ms, all within {waits[-1] * 1e3:.0f} ms"
        )
    report.note(
        f"one bare write and fsync takes {bare * 1e3:.2f} ms here; a move with its history is "
        f"{SECONDS / len(gated) / bare:.1f} times that"
    )


def _cores() -> list[tuple[Any, Any]]:
    from tests import factories
    from tests.cast import gather

    cast = gather()
    system = factories.make_system(cast.north, actor=cast.locksmith)
    return [
        (
            cast.locksmith,
            factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False),
        )
        for _ in range(WRITERS)
    ]


def _moves(cores: list[tuple[Any, Any]]) -> list[float]:
    """The seconds that each move took, of all writers together."""
    waits: list[float] = []
    end = time.perf_counter() + SECONDS
    threads = [threading.Thread(target=_move, args=(*each, end, waits)) for each in cores]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return waits


def _move(actor: Any, core: Any, end: float, waits: list[float]) -> None:
    from django.db import connection

    from keyctl.cores.services import move_core

    place = "bench"
    while time.perf_counter() < end:
        began = time.perf_counter()
        core = move_core(actor=actor, core=core, place=place, version=core.version)
        waits.append(time.perf_counter() - began)
        place = "shelf" if place == "bench" else "bench"
    connection.close()


def _without_gate(cores: list[tuple[Any, Any]]) -> list[float]:
    from unittest.mock import patch

    from keyctl.lib.gated.base import DatabaseWrapper

    for _, core in cores:
        core.refresh_from_db()
    with patch.object(DatabaseWrapper, "_enter_gate", lambda _self: None):
        return _moves(cores)
