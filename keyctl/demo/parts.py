"""The invented estate is made part by part, each kept whole or not at all, with a mark in history.

So a run that was stopped at any moment goes on with the part that it was in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from time import monotonic

from django.db import transaction

from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.jobs.pace import Mark, note, seconds_left
from keyctl.jobs.templatetags.job_words import about

KEPT = "demo.part_kept"
SECONDS_BETWEEN_LINES = 5

Say = Callable[[str], None]
# Told how much of a part is done, from 0 to 1.
Watch = Callable[[float], None]


@dataclass(frozen=True)
class Part:
    """``weight`` is about how many milliseconds it takes. One that keeps what it did by itself, step by step,
    is told how to say how far it is."""

    stage: str
    name: str
    weight: float
    build: Callable[[], object] | None = None
    go_on: Callable[[Watch], object] | None = None


def kept_parts() -> set[str]:
    return {detail["part"] for detail in Event.objects.filter(verb=KEPT).values_list("detail", flat=True)}


class Progress:
    """Says which stage it is at, how much is done and how long the rest takes, a line in some seconds."""

    def __init__(self, say: Say, parts: Sequence[Part], done: set[str]) -> None:
        self.say, self.total = say, sum(part.weight for part in parts)
        self.done = sum(part.weight for part in parts if part.name in done)
        self.began = self.said_at = monotonic()
        self.marks: list[Mark] = note((), 0.0, round(self.done))
        self.stage = ""

    def enter(self, part: Part) -> None:
        if part.stage != self.stage:
            self.stage = part.stage
            self._tell(0.0)
        else:
            self._watch(0.0)

    def watch(self, part: Part) -> Watch:
        return lambda share: self._watch(part.weight * share)

    def leave(self, part: Part) -> None:
        self.done += part.weight

    def _watch(self, more: float) -> None:
        seconds = monotonic() - self.began
        self.marks = note(self.marks, seconds, round(self.done + more))
        if monotonic() - self.said_at >= SECONDS_BETWEEN_LINES:
            self._tell(more)

    def _tell(self, more: float) -> None:
        self.said_at = monotonic()
        share = min(99, int(100 * (self.done + more) / self.total))
        left = seconds_left(self.marks, monotonic() - self.began, round(self.total))
        rest = "" if left is None else f", {about(timedelta(seconds=left))} left"
        self.say(f"{self.stage} ({share} % done{rest})")


def carry_out(parts: Sequence[Part], progress: Progress, done: set[str]) -> None:
    """Those that are not kept yet, in their order."""
    for part in parts:
        if part.name in done:
            continue
        progress.enter(part)
        if part.go_on:
            part.go_on(progress.watch(part))
        _keep(part)
        progress.leave(part)


@transaction.atomic
def _keep(part: Part) -> None:
    """What it makes and its mark are one act."""
    if part.build:
        part.build()
    record(actor=None, verb=KEPT, sentence=f"kept a part: {part.name}", detail={"part": part.name})
