"""What pages weigh on their first load, uncompressed, as Chromium fetches them: every page there is.

The sweep of the browser tests is run for it, which also looks at each page in both themes and at other sizes;
or, where `KEYCTL_WEIGHTS` names the file that such a run was told to write, that file is read.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from typing import Any

from tests.bench.report import Report

IS_APART = True
ROOT = Path(__file__).parents[2]
MOST_KB = 120
NAMED = {
    "field:app": "the app on the tablet",
    "field:app in German": "the app on the tablet in German",
    "design": "the page of all components",
}
SWEEP = "tests/browser/test_sweep.py"


def run(report: Report) -> None:
    written = os.environ.get("KEYCTL_WEIGHTS", "")
    rows = _read(Path(written)) if written else _swept(report)
    weights = {row["route"]: row["bytes"] / 1024 for row in rows}
    for route, what in NAMED.items():
        report.at_most(f"{what}, first load", weights.pop(route), MOST_KB, "KB")
    heaviest = max(weights, key=weights.__getitem__)
    name = "the heaviest of all other pages, first load"
    report.at_most(name, weights[heaviest], MOST_KB, "KB", f"{heaviest}; {len(weights)} pages")
    report.at_most("the middle of them, first load", median(weights.values()), MOST_KB, "KB")


def _swept(report: Report) -> list[dict[str, Any]]:
    with tempfile.NamedTemporaryFile(prefix="keyctl-bench-", suffix=".jsonl") as file:
        told = subprocess.run(  # noqa: S603 (ourselves)
            [sys.executable, "-m", "pytest", "-q", SWEEP],
            cwd=ROOT,
            env=os.environ | {"KEYCTL_WEIGHTS": file.name},
            capture_output=True,
            text=True,
            check=False,
        )
        report.note(told.stdout.strip().splitlines()[-1])
        return _read(Path(file.name))


def _read(file: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
