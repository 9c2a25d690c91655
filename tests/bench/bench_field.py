"""10,000 facts that 20 tablets queued, sent at once over HTTP to a server with threads, with repeats and lost
answers; against a loop that only inserts as many rows, each in a transaction of its own.

SQLite, or PostgreSQL where KEYCTL_DATABASE_URL names one (`bash .ci/postgres python -m tests.bench field`).
`KEYCTL_STORM` names another number of facts.
"""

import os
import threading
import time
from collections.abc import Callable

from tests.bench.installed import install
from tests.bench.report import Report, sized

TABLETS = 20
FACTS = int(os.environ.get("KEYCTL_STORM", sized(10_000, 400)))
WANTED_S = 120.0
# A fact with its effect, its answer and its history is some twenty statements and not one.
WANTED_RATIO = 1 / 40


def run(report: Report) -> None:
    install()
    from django.db import connection

    from keyctl.field.models import FieldEvent
    from tests.keyctl.field.simulator.storm import Storm

    storm = Storm(TABLETS, FACTS // TABLETS)
    address, stop = _serve()
    seconds = storm.break_out(address)
    stop()
    outcomes = storm.check()
    waits = sorted(wait for lane in storm.lanes for wait in lane.seconds)
    bare = _bare_inserts(storm.facts)
    report.ratio(
        f"{connection.vendor}: {storm.facts:,} facts of tablets, bare inserts", seconds, bare, WANTED_RATIO
    )
    report.note(f"{storm.facts / seconds:,.0f} facts/s: {dict(outcomes)}")
    report.note(
        f"{len(waits)} batches, half within {waits[len(waits) // 2]:.2f} s, "
        f"95 % within {waits[int(len(waits) * 0.95)]:.2f} s, all within {waits[-1]:.2f} s"
    )
    name = f"{storm.facts:,} facts of {TABLETS} tablets"
    report.at_most(f"{name}, until all are answered", seconds, WANTED_S * storm.facts / 10_000)
    report.at_most(f"{name}, lost or doubled", abs(FieldEvent.objects.count() - storm.facts), 0, "facts")


def _serve() -> tuple[str, Callable[[], None]]:
    """A server that answers each connection in a thread, on a free port."""
    from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
    from django.core.wsgi import get_wsgi_application

    class Quiet(WSGIRequestHandler):
        def log_message(self, *_words: object) -> None:
            pass

    server = ThreadedWSGIServer(("127.0.0.1", 0), Quiet)
    server.daemon_threads = True
    server.set_app(get_wsgi_application())
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return f"http://127.0.0.1:{server.server_port}", server.shutdown


def _bare_inserts(rows: int) -> float:
    """As many rows, one after the other, each in a transaction of its own."""
    from keyctl.audit.services import new_event

    events = [new_event(actor=None, verb="bench.row", sentence="one row") for _ in range(rows)]
    begun = time.perf_counter()
    for event in events:
        event.save(force_insert=True)
    return time.perf_counter() - begun
