"""What a benchmark reports: two ways of one piece of work, timed side by side in one run, and their ratio."""

from __future__ import annotations

import os
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class Line:
    name: str
    ours_s: float
    theirs_s: float
    wanted: float
    remark: str = ""

    @property
    def ratio(self) -> float:
        return self.theirs_s / self.ours_s

    def __str__(self) -> str:
        met = "met" if self.ratio >= self.wanted else "NOT met"
        return (
            f"{self.name:<58} {self.ours_s * 1e3:>12.3f} ms {self.theirs_s * 1e3:>14.3f} ms "
            f"{self.ratio:>10,.1f}x  (wanted {self.wanted:,g}x: {met}) {self.remark}"
        )


@dataclass
class Report:
    """Collects lines and prints each at once."""

    lines: list[Line] = field(default_factory=list)

    def ratio(self, name: str, ours_s: float, theirs_s: float, wanted: float, remark: str = "") -> None:
        """``theirs_s`` may be scaled up from a slice of the work; the remark then says so."""
        line = Line(name, ours_s, theirs_s, wanted, remark)
        self.lines.append(line)
        print(line, flush=True)  # noqa: T201

    def note(self, text: str) -> None:
        print(text, flush=True)  # noqa: T201


def best_of(times: int, work: Callable[[], T]) -> tuple[float, T]:
    """(seconds of the quickest run, what it gave)."""
    best, result = float("inf"), None
    for _ in range(times):
        begun = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - begun)
    if result is None and times < 1:
        raise ValueError("run it once at least")
    return best, result  # type: ignore[return-value]


def peak_memory_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def bare_fsync(file: Path, times: int) -> float:
    """Seconds that one page written and kept takes here, with nothing around it."""
    began = time.perf_counter()
    with file.open("wb", buffering=0) as out:
        for _ in range(times):
            out.write(b"x" * 4096)
            os.fsync(out.fileno())
    return (time.perf_counter() - began) / times
