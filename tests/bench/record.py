"""The committed record: for each topic a file in ``fixtures/measurements``, with its machine and seed."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.bench.machine import load, machine, versions
from tests.bench.report import SEED, Line, Report, peak_memory_mib

FOLDER = Path(__file__).parents[2] / "fixtures" / "measurements"
# Ratios of runs before, the newest first: how far they lie apart is what chance does to a line.
KEPT_BEFORE = 4


@dataclass(frozen=True)
class Measured:
    """One run of one topic."""

    topic: str
    day: str
    machine: str
    versions: dict[str, str]
    seed: int
    load: str
    seconds: float
    peak_mib: float
    lines: tuple[Line, ...]
    notes: tuple[str, ...]
    before: dict[str, list[float]]

    def as_text(self) -> str:
        """JSON with a row for each line, so that a change is read row by row."""
        facts = asdict(self) | {"lines": [line.as_row() for line in self.lines], "notes": list(self.notes)}
        return "{\n" + ",\n".join(f'"{name}": {_rows(value)}' for name, value in facts.items()) + "\n}\n"

    @classmethod
    def from_text(cls, text: str) -> Measured:
        facts: dict[str, Any] = json.loads(text)
        lines = tuple(Line.from_row(row) for row in facts["lines"])
        return cls(**facts | {"lines": lines, "notes": tuple(facts["notes"])})


def _rows(value: Any) -> str:
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f" {json.dumps(row, ensure_ascii=False)}" for row in value) + "\n]"
    return json.dumps(value, ensure_ascii=False)


def measured(topic: str, report: Report, seconds: float, seed: int = SEED) -> Measured:
    return Measured(
        topic=topic,
        day=datetime.now(tz=UTC).date().isoformat(),
        machine=machine(),
        versions=versions(),
        seed=seed,
        load=load(),
        seconds=round(seconds, 1),
        peak_mib=round(peak_memory_mib()),
        lines=tuple(report.lines),
        notes=tuple(report.notes),
        before={},
    )


def keep(topic: str, report: Report, *, seconds: float, seed: int = SEED) -> None:
    """What a measurement with a command of its own calls, when it is asked to renew the record."""
    keep_measured(measured(topic, report, seconds, seed))


def keep_measured(new: Measured, folder: Path = FOLDER) -> None:
    folder.mkdir(exist_ok=True)
    old = read_topic(new.topic, folder)
    before = _before(old) if old else {}
    names = {line.name for line in new.lines}
    kept = replace(new, before={name: ratios for name, ratios in before.items() if name in names})
    (folder / f"{new.topic}.json").write_text(kept.as_text(), encoding="utf-8")


def _before(old: Measured) -> dict[str, list[float]]:
    return {
        line.name: [float(f"{line.ratio:.4g}"), *old.before.get(line.name, [])][:KEPT_BEFORE]
        for line in old.lines
    }


def read_topic(topic: str, folder: Path = FOLDER) -> Measured | None:
    file = folder / f"{topic}.json"
    return Measured.from_text(file.read_text(encoding="utf-8")) if file.is_file() else None


def read_record(folder: Path = FOLDER) -> dict[str, Measured]:
    found: Iterable[Path] = sorted(folder.glob("*.json"))
    return {file.stem: Measured.from_text(file.read_text(encoding="utf-8")) for file in found}
