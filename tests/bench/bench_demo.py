"""The invented estate of 100,000 doors, made by the command in an empty folder, as somebody would make it.

Fifteen minutes of a quiet machine; `KEYCTL_BENCH_DOORS` names fewer.
"""

import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.report import Report

IS_APART = True
DOORS = int(os.environ.get("KEYCTL_BENCH_DOORS", "100000"))
MOST_S, MOST_MIB = 900.0, 4096.0
KEYS_FOR_A_DOOR, EVENTS_FOR_A_DOOR, SITES = 1.2, 10, 20
ROOT = Path(__file__).parents[2]


def run(report: Report) -> None:
    with tempfile.TemporaryDirectory(prefix="keyctl-bench-") as folder:
        began = time.perf_counter()
        told = _made_in(Path(folder))
        took = time.perf_counter() - began
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    size = f"{DOORS:,} doors"
    report.at_most(f"{size} made, processor seconds", used.ru_utime + used.ru_stime, MOST_S)
    report.note(f"by the clock it took {took:,.0f} s")
    report.at_most(f"memory while {size} were made", used.ru_maxrss / 1024, MOST_MIB, "MiB")
    report.at_least(f"sites of {size}", _figure(told, "sites"), SITES, "sites")
    report.at_least(f"key copies of {size}", _figure(told, "key copies"), KEYS_FOR_A_DOOR * DOORS, "keys")
    report.at_least(f"events of {size}", _figure(told, "events"), EVENTS_FOR_A_DOOR * DOORS, "events")
    report.at_most(f"disagreements of {size}", _figure(told, "disagreements"), 0, "findings")


def _made_in(folder: Path) -> str:
    """What the command says at its end."""
    places = {"KEYCTL_DATA_DIR": f"{folder}/data", "KEYCTL_SECRETS_DIR": f"{folder}/secrets"}
    command = [sys.executable, "manage.py", "demo", "--doors", str(DOORS), "--no-serve"]
    made = subprocess.run(  # noqa: S603
        command, cwd=ROOT, env=os.environ | places, capture_output=True, text=True, check=True
    )
    return made.stdout


def _figure(told: str, name: str) -> int:
    found = re.search(rf"\b{name} (\d+)", told)
    if found is None:
        raise AssertionError(f"the command tells no {name}:\n{told[-600:]}")
    return int(found[1])
