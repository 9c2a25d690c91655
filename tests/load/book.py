"""What was asked and answered, by everybody: times by kind, what went wrong, and the acts that were done."""

import re
import threading
from collections import Counter, defaultdict
from dataclasses import dataclass, field

# Identifiers and numbers in an address: pages of one kind count together.
ONE_THING = re.compile(r"(?<=/)(?:[0-9a-f]{8}-[0-9a-f-]{27}|\d+)(?=/|$)")
MOST_KEPT = 400
CONFLICT, UNPROCESSABLE = 409, 422


def kind_of(method: str, path: str, *, is_piece: bool = False) -> str:
    shape = ONE_THING.sub("…", path.partition("?")[0])
    return f"{method} {shape}" + (" (a piece)" if is_piece else "")


@dataclass(frozen=True)
class Act:
    """One write that history must know exactly once: by the number of its request, under its verbs."""

    what: str
    request: str
    # How many events of each verb the one request must have left.
    verbs: dict[str, int]


@dataclass
class Book:
    """Shared by all threads; each note is short."""

    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    statuses: Counter[tuple[str, int]] = field(default_factory=Counter)
    # What nobody should be answered, with where and in which words.
    wrong: list[str] = field(default_factory=list)
    # What two people on one row, or a rule of the house, rightly bring about.
    conflicts: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    acts: list[Act] = field(default_factory=list)
    # The number of each request, with the status it was answered by; 0 where none came.
    numbers: dict[str, int] = field(default_factory=dict)
    # Facts that must be in a table once: (which question of `holding`, the value).
    marks: list[tuple[str, str]] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def answered(self, kind: str, number: str, status: int, seconds: float) -> None:
        with self._lock:
            self.seconds[kind].append(seconds)
            self.statuses[kind, status] += 1
            self.numbers[number] = status

    def never_answered(self, kind: str, number: str, words: str) -> None:
        with self._lock:
            self.numbers[number] = 0
            self._note_wrong(f"{kind}: no answer ({words})")

    def went_wrong(self, words: str) -> None:
        with self._lock:
            self._note_wrong(words)

    def _note_wrong(self, words: str) -> None:
        if len(self.wrong) < MOST_KEPT:
            self.wrong.append(words)
        elif len(self.wrong) == MOST_KEPT:
            self.wrong.append("… and more")

    def turned_down(self, what: str, status: int) -> None:
        """A conflict where somebody was first, or a rule that stands in the way: told, and nothing done."""
        with self._lock:
            (self.conflicts if status == CONFLICT else self.refused)[what] += 1

    def done(self, what: str, request: str, **verbs: int) -> None:
        """Verbs are written with two underscores for the dot: ``core__moved=1``."""
        named = {name.replace("__", "."): count for name, count in verbs.items()}
        with self._lock:
            self.acts.append(Act(what, request, named))

    def mark(self, question: str, value: str) -> None:
        with self._lock:
            self.marks.append((question, value))
