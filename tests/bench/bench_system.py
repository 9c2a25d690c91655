"""A key system of 16,384 changes from its design to its printed lists, by the jobs that the pages start: keys
made, 5,000 cores registered and pinned, all proven, bitting list and keying schedule as workbook and as PDF.
"""

import time
from collections.abc import Callable
from random import Random
from typing import Any

from tests.bench.installed import install
from tests.bench.report import SEED, Report, sized

NEEDS = (4, 16, sized(256, 4))
CHANGES = NEEDS[0] * NEEDS[1] * NEEDS[2]
CORES = sized(5_000, 50)
# Processor seconds, our own bound: nobody waits before a job, which tells how far it is.
MOST_S = 120.0


def run(report: Report) -> None:
    install()
    from keyctl.systems.models import KeySystem
    from tests.cast import gather

    cast = gather()
    _timed(report, f"{CHANGES:,} changes designed and stored", lambda: _keys(cast))
    system = KeySystem.objects.get(code="LARGE")
    _timed(report, f"{CORES:,} cores registered and pinned", lambda: _cores(cast, system))
    _timed(report, f"{CORES:,} cores proven against all keys", lambda: _proof(cast, system))
    for kind in ("bitting-list", "keying-schedule"):
        for form in ("xlsx", "pdf"):
            _timed(report, f"{kind} as {form}", lambda kind=kind, form=form: _list(cast, system, kind, form))  # type: ignore[misc]


def _timed(report: Report, name: str, work: Callable[[], str]) -> None:
    began = time.process_time()
    remark = work()
    report.at_most(name, time.process_time() - began, MOST_S, remark=remark)


def _finished(job: Any) -> str:
    """How far it said it was stands in its row."""
    from tests.jobs import finish

    job = finish(job)
    if job.state != job.State.DONE:
        raise AssertionError(job.state)
    return f"{job.done:,} of {job.total:,} steps told"


def _keys(cast: Any) -> str:
    from keyctl import engine
    from keyctl.systems.services.drafting import make_keys, work_out

    wanted = engine.Wanted("small-a2-7", NEEDS, "partial")
    draft = work_out(
        actor=cast.locksmith,
        sites=[cast.north],
        code="LARGE",
        name="Large",
        keyway="W1",
        wanted=wanted,
        rng=Random(SEED),
    )
    return _finished(make_keys(actor=cast.locksmith, draft=draft))


def _cores(cast: Any, system: Any) -> str:
    from keyctl.cores.services.bulk_jobs import start_registering

    return _finished(start_registering(actor=cast.locksmith, site=cast.north, system=system, count=CORES))


def _proof(cast: Any, system: Any) -> str:
    from keyctl.proofs.models import Proof
    from keyctl.proofs.services.proving import start_proof

    told = _finished(start_proof(actor=cast.locksmith, system=system))
    proof = Proof.objects.get(system=system)
    return f"{proof.findings.count()} findings; {list(proof.figures.values())}; {told}"


def _list(cast: Any, system: Any, kind: str, form: str) -> str:
    from keyctl.prints.models import Export
    from tests.keyctl.prints.exported import ask

    return _finished(ask(cast, system, Export.Kind(kind), Export.Form(form)))
