"""Which topics there are: modules ``bench_<topic>`` with ``run(report)``, some of them on PostgreSQL too."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.bench.record import FOLDER, Measured, read_topic

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
POSTGRESQL = "@postgresql"
# Their other way of storing is part of the figure.
ON_BOTH = ("feed", "migrate", "search", "swaps")
# Starts a server that waits for the disk; the one of the tests does not.
OWN_SERVER = ("swaps",)


def topics() -> list[str]:
    """All that a whole run measures: no topic that says it takes too long for that."""
    found = [name for name in modules() if "\nIS_APART = True\n" not in _source(name)]
    return sorted([*found, *(f"{name}{POSTGRESQL}" for name in ON_BOTH)])


def modules() -> list[str]:
    return [file.stem.removeprefix("bench_") for file in sorted(HERE.glob("bench_*.py"))]


def unknown(asked: list[str]) -> list[str]:
    return sorted(topic for topic in asked if topic.removesuffix(POSTGRESQL) not in modules())


def _source(name: str) -> str:
    return (HERE / f"bench_{name}.py").read_text(encoding="utf-8")


def expected_s(topic: str) -> float:
    """As long as it took when the record was made; a minute for what is new."""
    before = read_topic(topic, FOLDER)
    return before.seconds if before else 60.0


def run_apart(topic: str, file: Path, seed: int, *, is_quick: bool) -> Measured | None:
    """In a process of its own, so that no topic's memory is counted against another; None if it failed."""
    command = [sys.executable, "-m", "tests.bench.running", topic, str(file)]
    environment = (
        os.environ | {"KEYCTL_BENCH_SEED": str(seed)} | ({"KEYCTL_BENCH_QUICK": "1"} if is_quick else {})
    )
    environment.pop("KEYCTL_DATABASE_URL", None)
    if topic.removesuffix(POSTGRESQL) in OWN_SERVER and topic.endswith(POSTGRESQL):
        environment["KEYCTL_DATABASE_URL"] = "postgresql"
    elif topic.endswith(POSTGRESQL):
        command = ["bash", ".ci/postgres", *command]
    if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode:  # noqa: S603 (ourselves)
        return None
    return Measured.from_text(file.read_text(encoding="utf-8"))
