"""Doors brought in by jobs, 100,000 against 10,000: by a table, by a COBie workbook, and taken back again.

Each import is a process of its own with a new database, and the memory is that process's peak; the file is
read in a child of it, which is counted by itself.
"""

import multiprocessing
import resource
import tempfile
import time
from typing import Any, NamedTuple

from tests.bench.installed import install
from tests.bench.report import Report, peak_memory_mib, sized

FEW, MANY = sized(10_000, 200), sized(100_000, 2_000)
MOST_TIMES = 12.0
MOST_MEMORY = 512
FORMS = {"doors": "table", "cobie": "workbook"}
PARTS = ("tried and taken", "tried again", "undone")


class Spent(NamedTuple):
    """Processor seconds of each part, with the children's; the peaks of the process and of a child (MiB)."""

    seconds: tuple[float, ...]
    own: float
    child: float


def run(report: Report) -> None:
    for form, maker in FORMS.items():
        few, many = (_apart(form, maker, doors) for doors in (FEW, MANY))
        for part, little, much in zip(PARTS, few.seconds, many.seconds, strict=True):
            # Ours is a tenth of the large one; the ratio is the small one's share of it, at least 10 / 12.
            name = f"{form}, {part}: a tenth of {MANY:,} doors : {FEW:,}"
            report.ratio(name, much * FEW / MANY, little, 10 / MOST_TIMES)
            report.note(
                f"{form}, {part}: {MANY:,} doors took {much:.0f} s, {much / little:.1f} times {FEW:,}"
            )
        for who, peak, small in (("job", many.own, few.own), ("reader", many.child, few.child)):
            name, remark = f"{form}: peak memory of the {who}, {MANY:,} doors", f"{small:,.0f} with {FEW:,}"
            report.at_most(name, peak, MOST_MEMORY, "MiB", remark)


def _apart(form: str, maker: str, doors: int) -> Spent:
    with tempfile.TemporaryDirectory(prefix="keyctl-bench-") as folder:
        context = multiprocessing.get_context("spawn")
        # The file is made elsewhere: its making is no part of the import's memory.
        maker_process = context.Process(target=_make, args=(maker, doors, f"{folder}/file"))
        maker_process.start()
        maker_process.join()
        receiver, sender = context.Pipe(duplex=False)
        process = context.Process(target=_import, args=(form, folder, doors, sender))
        process.start()
        spent: Spent = receiver.recv()
        process.join()
        return spent


def _make(maker: str, doors: int, name: str) -> None:
    from tests.bench import buildings

    with open(name, "wb") as out:  # noqa: PTH123 (a process that lives for this line)
        out.write(getattr(buildings, maker)(doors))


def _import(form: str, folder: str, doors: int, sender: Any) -> None:
    install(folder)
    from keyctl.imports.kinds import find_kind
    from keyctl.imports.models import Import
    from keyctl.imports.running import run_import, undo_here
    from keyctl.places.models import Door
    from tests.cast import gather

    cast, kind = gather(), find_kind(form)
    facts: dict[str, Any] = {
        "actor": cast.administrator,
        "site": cast.north,
        "kind": kind,
        "name": form,
        "named": {},
    }
    with open(f"{folder}/file", "rb") as file:  # noqa: PTH123
        content = file.read()
    seconds = []
    for is_dry in (False, True):
        begun = _processor()
        told = run_import(**facts, content=content, is_dry=is_dry)
        seconds.append(_processor() - begun)
        expected = {
            "read": doors,
            "created": 0 if is_dry else doors,
            "updated": 0,
            "unchanged": doors if is_dry else 0,
        }
        if told["doors"] != expected or told["errors"]:
            raise AssertionError(told["doors"], told["errors"][:3])
    begun = _processor()
    undo_here(actor=cast.administrator, imported=Import.objects.get(state="taken"))
    seconds.append(_processor() - begun)
    if Door.objects.exists():
        raise AssertionError("doors are left")
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    sender.send(Spent(tuple(seconds), peak_memory_mib(), child))


def _processor() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime
