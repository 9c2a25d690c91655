"""What a benchmark reports: two ways of one piece of work side by side, or a figure beside its bound."""

from __future__ import annotations

import os
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, Literal, TypeVar

T = TypeVar("T")
Kind = Literal["ratio", "at most", "at least"]
# What is drawn by lot is drawn from here; the record says which seed it was.
SEED = int(os.environ.get("KEYCTL_BENCH_SEED", "1"))
IS_QUICK = "KEYCTL_BENCH_QUICK" in os.environ
# What arithmetic over a whole estate may hold.
MOST_MIB = 2048.0


@dataclass(frozen=True)
class Line:
    """``ours`` and ``other``: of a ratio seconds of two ways, of a bound what was measured and the bound."""

    name: str
    kind: Kind
    ours: float
    other: float
    wanted: float = 1.0
    unit: str = "s"
    remark: str = ""

    @property
    def ratio(self) -> float:
        """How many times as good as the other way, or as the bound; more is better in every line."""
        good, bad = (self.ours, self.other) if self.kind == "at least" else (self.other, self.ours)
        if bad:
            return good / bad
        return 1.0 if not good or self.kind == "at most" else good

    @property
    def is_met(self) -> bool:
        return self.ratio >= self.wanted

    @property
    def share(self) -> float:
        """Of what is wanted: 1 is just met. Nought is wanted of what is only told."""
        return self.ratio / self.wanted if self.wanted else 1.0

    @property
    def asked(self) -> str:
        if not self.wanted:
            return "nothing"
        if self.kind == "ratio":
            return times(self.wanted)
        return f"{self.kind} {shown(self.other, self.unit)}"

    def __str__(self) -> str:
        met = "told only" if not self.wanted else "met" if self.is_met else "NOT met"
        sides = f"{shown(self.ours, self.unit):>14} {shown(self.other, self.unit):>14}"
        judged = f"{self.ratio:>10,.2f}x  (wanted {self.asked}: {met})"
        return f"{self.name:<68} {sides} {judged} {self.remark}".rstrip()

    def as_row(self) -> dict[str, Any]:
        row = {
            "name": self.name,
            "kind": self.kind,
            "ours": _rounded(self.ours),
            "other": _rounded(self.other),
        }
        row |= {"wanted": _rounded(self.wanted), "unit": self.unit, "remark": self.remark}
        return row | {"ratio": _rounded(self.ratio), "met": self.is_met}

    @classmethod
    def from_row(cls, row: dict[str, Any]) -> Line:
        return cls(
            **{name: row[name] for name in ("name", "kind", "ours", "other", "wanted", "unit", "remark")}
        )


def times(ratio: float) -> str:
    return f"{ratio:,.0f}x" if ratio >= 100 else f"{ratio:.3g}x"


def shown(value: float, unit: str) -> str:
    if unit == "s":
        return f"{value * 1e3:,.4g} ms" if value < 1 else f"{value:,.1f} s"
    return f"{value:,.4g} {unit}" if value < 1000 else f"{value:,.0f} {unit}"


def _rounded(value: float) -> float:
    return float(f"{value:.5g}")


@dataclass
class Report:
    """Collects lines and notes, and prints each at once."""

    lines: list[Line] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def ratio(self, name: str, ours_s: float, theirs_s: float, wanted: float, remark: str = "") -> None:
        """``theirs_s`` may be scaled up from a slice of the work; the remark then says so."""
        self.add(Line(name, "ratio", ours_s, theirs_s, wanted, remark=remark))

    def at_most(self, name: str, measured: float, most: float, unit: str = "s", remark: str = "") -> None:
        self.add(Line(name, "at most", measured, most, unit=unit, remark=remark))

    def at_least(self, name: str, measured: float, least: float, unit: str = "s", remark: str = "") -> None:
        self.add(Line(name, "at least", measured, least, unit=unit, remark=remark))

    def add(self, line: Line) -> None:
        if line.name in {each.name for each in self.lines}:
            raise ValueError(f"two lines are called {line.name!r}")
        self.lines.append(line)
        print(line, flush=True)  # noqa: T201

    def note(self, text: str) -> None:
        self.notes.append(text)
        print(text, flush=True)  # noqa: T201


def sized(usual: int, quick: int) -> int:
    """A size; small where topics are only tried, and nothing is measured."""
    return quick if IS_QUICK else usual


def drawn(nth: int = 0) -> Random:
    """Another one for each ``nth``; all from the seed of the run."""
    return Random(SEED + nth)


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
