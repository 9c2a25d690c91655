"""What a run brought: lines for the record, with bounds that people would draw, and notes."""

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.bench.report import Report
from tests.load.book import Book
from tests.load.measures import percentile

# A page within a second keeps the thought; an act that is signed may take twice that.
PAGE_WITHIN_S, ACT_WITHIN_S = 1.0, 2.0
# The worker looks each second, and does one job after the other.
QUEUE_WITHIN_S = 30.0
# Below that over ten minutes it is noise of the allocator; a leak of one request in memory is more.
CLIMB_MIB_A_MINUTE = 2.0
# Of fewer answers the slowest one alone would be the figure.
FEWEST = 20
WORST_LEVELS = ("error", "critical")
SIGNS_OF_TROUBLE = ("Traceback", "[ERROR]", "[CRITICAL]")
MOST_TOLD = 25


@dataclass
class Outcome:
    """One run, measured."""

    where: str
    book: Book
    climbs: dict[str, tuple[float, float]]
    waits: dict[str, list[float]]
    broken: list[str]
    in_logs: list[str]
    warned: Counter[str]
    seconds: float


def troubles(logs: Sequence[Path]) -> list[str]:
    """Lines that tell of an error, of any process."""
    found = []
    for log in logs:
        for line in log.read_text(errors="replace").splitlines():
            if _is_trouble(line):
                found.append(f"{log.name}: {line[:600]}")
    return found


def _is_trouble(line: str) -> bool:
    try:
        said = json.loads(line)
    except ValueError:
        return any(sign in line for sign in SIGNS_OF_TROUBLE)
    return isinstance(said, dict) and said.get("level") in WORST_LEVELS


def warnings(logs: Sequence[Path]) -> Counter[str]:
    """What the logs tell beside errors, by its first words."""
    found: Counter[str] = Counter()
    for log in logs:
        for line in log.read_text(errors="replace").splitlines():
            if '"level": "warning"' in line:
                found[str(json.loads(line).get("event"))[:100]] += 1
    return found


def tell(outcome: Outcome, report: Report) -> None:
    book, where = outcome.book, outcome.where
    answers = sum(book.statuses.values())
    report.note(
        f"{answers} answers in {outcome.seconds:.0f} s ({answers / outcome.seconds:.1f} a second), "
        f"{len(book.acts)} acts kept in the book"
    )
    _errors(report, f"errors answered, {where}", book.wrong)
    _errors(report, f"errors in the logs, {where}", outcome.in_logs)
    _errors(report, f"acts and laws broken afterwards, {where}", outcome.broken)
    _seconds(report, outcome)
    _waits(report, outcome)
    _memory(report, outcome)
    _counted(report, outcome)


def _waits(report: Report, outcome: Outcome) -> None:
    for name, waited in outcome.waits.items():
        if waited:
            line = f"p95 of waiting for a worker, {name}, {outcome.where}"
            said = f"{len(waited)} of them, p50 {percentile(waited, 0.5):.2f} s, longest {max(waited):.2f} s"
            report.at_most(line, percentile(waited, 0.95), QUEUE_WITHIN_S, unit="s", remark=said)


def _memory(report: Report, outcome: Outcome) -> None:
    for name, (climb, most) in sorted(outcome.climbs.items()):
        line, said = f"memory of {name}, {outcome.where}", f"at most {most:.0f} MiB"
        # What shrinks is no worse than what stays.
        report.at_most(line, max(0.0, climb), CLIMB_MIB_A_MINUTE, unit="MiB a minute", remark=said)


def _counted(report: Report, outcome: Outcome) -> None:
    book = outcome.book
    acts = Counter(act.what for act in book.acts)
    for title, counted in (
        ("acts", acts),
        ("conflicts", book.conflicts),
        ("refused by a rule", book.refused),
        ("warnings in the logs", outcome.warned),
    ):
        report.note(f"{title}: " + (", ".join(f"{what} {n}" for what, n in counted.most_common()) or "none"))


def _errors(report: Report, name: str, found: list[str]) -> None:
    """Which they are is for whoever looks on: they name requests, and belong into no record."""
    report.at_most(name, len(found), 0, unit="errors")
    for each in found[:MOST_TOLD]:
        print(f"    {each}", flush=True)  # noqa: T201


def _seconds(report: Report, outcome: Outcome) -> None:
    """By kind of page and of act; the seldom ones together."""
    seldom: list[float] = []
    for kind, seconds in sorted(outcome.book.seconds.items()):
        if len(seconds) < FEWEST:
            seldom += seconds
        else:
            _line(report, kind, seconds, outcome.where)
    if seldom:
        _line(report, "what was asked less than 20 times", seldom, outcome.where)
    _line(
        report, "everything", [each for kind in outcome.book.seconds.values() for each in kind], outcome.where
    )


def _line(report: Report, kind: str, seconds: list[float], where: str) -> None:
    bound = ACT_WITHIN_S if kind.startswith("POST") else PAGE_WITHIN_S
    said = f"{len(seconds)} answers, p50 {percentile(seconds, 0.5):.3f} s, longest {max(seconds):.2f} s"
    report.at_most(f"p95 of {kind}, {where}", percentile(seconds, 0.95), bound, unit="s", remark=said)
