"""The register beside what was measured, in words: on the screen, as a table to read, and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from tests.bench.machine import machine, versions
from tests.bench.record import Measured
from tests.bench.report import Line, shown, times
from tests.bench.wanted import REGISTER, Wanted

ABOUT = """# Measurements

Every figure that was asked for, and what was measured of it. `python -m tests.bench --keep` makes this page,
the drawing `report.svg` and the files beside them anew; `python -m tests.bench` sets a run beside them.
Ratios are of two ways timed in one run, or of a figure and its bound. Machines differ and are busy: read
ratios, not seconds.
"""


@dataclass(frozen=True)
class Found:
    """An entry of the register with its lines; none where nothing of it was measured."""

    entry: Wanted
    lines: tuple[tuple[str, Line], ...]

    @property
    def wanted(self) -> list[Line]:
        """Without what is only told."""
        return [line for _, line in self.lines if line.wanted]

    @property
    def worst(self) -> Line:
        return min(self.wanted or [line for _, line in self.lines], key=lambda line: line.share)

    @property
    def is_met(self) -> bool:
        return all(line.is_met for _, line in self.lines)

    @property
    def verdict(self) -> str:
        if self.lines:
            unmet = sum(not line.is_met for line in self.wanted)
            met = "met" if self.wanted else "told"
            return met if not unmet else f"NOT met in {unmet} of {len(self.wanted)}"
        return "held by a test" if self.entry.tests else "not measured here"


def found_of(entry: Wanted, measured: Mapping[str, Measured]) -> Found:
    lines = [
        (topic, line)
        for topic, each in measured.items()
        for line in each.lines
        if entry.measures(topic, line.name)
    ]
    return Found(entry, tuple(lines))


def by_theme(measured: Mapping[str, Measured]) -> dict[str, list[Found]]:
    return {theme: [found_of(entry, measured) for entry in entries] for theme, entries in REGISTER.items()}


def in_words(measured: Mapping[str, Measured]) -> str:
    """A line for each figure of the register, at the end of a run."""
    return "\n".join(
        f"{found.verdict:<20} {found.entry.title}: {found.entry.wanted}{_measured_as(found)}"
        for theme in by_theme(measured).values()
        for found in theme
    )


def _measured_as(found: Found) -> str:
    return f" [{value(found.worst)}]" if found.lines else ""


def value(line: Line) -> str:
    """What was measured, in the words of the line's kind."""
    if not line.wanted:
        return times(line.ratio) if line.kind == "ratio" else shown(line.ours, line.unit)
    if line.kind == "ratio":
        return f"{times(line.ratio)} of {times(line.wanted)}"
    return f"{shown(line.ours, line.unit)} of {shown(line.other, line.unit)}"


def as_json(measured: Mapping[str, Measured], ended: str, *, is_quick: bool) -> str:
    facts = {"ended": ended, "quick": is_quick, "machine": machine(), "versions": versions()}
    topics = {topic: json.loads(each.as_text()) for topic, each in measured.items()}
    return json.dumps(facts | {"topics": topics, "figures": _judged(measured)}, ensure_ascii=False, indent=1)


def _judged(measured: Mapping[str, Measured]) -> list[dict[str, str]]:
    return [
        {"figure": found.entry.title, "wanted": found.entry.wanted, "verdict": found.verdict}
        for theme in by_theme(measured).values()
        for found in theme
    ]


def write(measured: Mapping[str, Measured], file: Path) -> None:
    file.write_text(as_page(measured), encoding="utf-8")


def as_page(measured: Mapping[str, Measured]) -> str:
    return "\n".join(_page(measured)) + "\n"


def _page(measured: Mapping[str, Measured]) -> Iterator[str]:
    yield ABOUT
    yield "![Every figure as a share of what was wanted](report.svg)\n"
    for theme, entries in by_theme(measured).items():
        yield f"## {theme}\n"
        yield from _rows(("Figure", "Wanted", "Measured", ""), map(_cells, entries))
    yield "## Every line\n"
    for each in measured.values():
        yield from _topic(each)


def _cells(found: Found) -> tuple[str, ...]:
    held = f"each run of the tests: {found.entry.tried}" if found.entry.tests else ""
    worst = f"{value(found.worst)}{_share(found)}" if found.lines else ""
    measured = "; ".join(part for part in (worst, held) if part)
    why = "" if found.is_met else f". {found.entry.why}"
    return found.entry.title, found.entry.wanted, measured, f"{found.verdict}{why}"


def _share(found: Found) -> str:
    return f" (the least of {len(found.wanted)})" if len(found.wanted) > 1 else ""


def _topic(each: Measured) -> Iterator[str]:
    yield f"### {each.topic}\n"
    yield (
        f"{each.day}, {each.machine}, load {each.load}, seed {each.seed}, {each.seconds:,.0f} s, peak memory "
        f"{each.peak_mib:,.0f} MiB; {', '.join(f'{name} {of}' for name, of in each.versions.items())}.\n"
    )
    yield from _rows(
        ("Line", "Ours", "Other way or bound", "Ratio", "Wanted", "", ""), map(_line, each.lines)
    )
    yield from (f"- {note.strip()}" for note in each.notes)
    yield ""


def _line(line: Line) -> tuple[str, ...]:
    verdict = ("met" if line.is_met else "NOT met") if line.wanted else "told only"
    sides = (shown(line.ours, line.unit), shown(line.other, line.unit), times(line.ratio))
    return line.name, *sides, line.asked, verdict, line.remark


def _rows(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    yield f"| {' | '.join(head)} |"
    yield f"|{' --- |' * len(head)}"
    yield from (f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |" for row in rows)
    yield ""
