"""Random small cases against trying everything, 100,000 of each kind: the tests that CI runs with fewer.

Each is a run of pytest with more cases; a difference is a failed test, and then none of its cases count.
"""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from tests.bench.report import SEED, Report, sized

IS_APART = True
ROOT = Path(__file__).parents[2]
WANTED = int(os.environ.get("KEYCTL_TRIALS", sized(100_000, 800)))


@dataclass(frozen=True)
class Trial:
    """``parts``: so many tests share the cases; ``setting`` is how many each of them tries."""

    name: str
    tests: str
    setting: str
    parts: int = 1

    def environment(self) -> dict[str, str]:
        return {self.setting: str(-(-WANTED // self.parts)), "KEYCTL_CHART_SEED": str(SEED)}


EACH = "PINNING_CASES"
TRIALS = (
    Trial("bittings counted", "test_methods.py::test_the_count_in_columns_equals_listing", EACH, 8),
    Trial("keys progressed", "test_methods.py::test_a_method_gives_the_keys_that_it_means", EACH, 8),
    Trial("estates audited", "test_joins.py::test_an_audit_equals_turning_every_key_in_every_core", EACH),
    Trial("unions of boxes", "test_incidental.py::test_the_union_equals_a_set_of_all_its_bittings", EACH, 8),
    Trial(
        "charts solved",
        "test_solving.py::test_a_chart_is_solved_exactly_if_some_bittings_do_what_it_asks",
        "KEYCTL_CHART_CASES",
    ),
)


def run(report: Report) -> None:
    for trial in TRIALS:
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-n",
            "2",
            "--dist",
            "worksteal",
            f"tests/pinning/{trial.tests}",
        ]
        told = subprocess.run(  # noqa: S603 (ourselves)
            command,
            cwd=ROOT,
            env=os.environ | trial.environment(),
            capture_output=True,
            text=True,
            check=False,
        )
        last = told.stdout.strip().splitlines()[-1]
        tried = 0 if told.returncode else WANTED
        report.at_least(f"{trial.name} as by trying everything", tried, WANTED, "cases", last)
