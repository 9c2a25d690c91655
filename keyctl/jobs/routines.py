"""Work that comes round: an app names it at start, and the worker does what is due, each round once.

A routine belongs to nobody, so it asks for no role; what it writes is the program's own.
"""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import OperationalError
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.jobs.models import Routine
from keyctl.jobs.running import ending
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from keyctl.lib.retold import kept_text
from keyctl.lib.traces import trace_without_values

logger = logging.getLogger(__name__)

Work = Callable[[datetime], str]

# A worker that took a routine and was not heard of again has died; the next one takes it.
GIVEN_UP_AFTER = timedelta(minutes=30)
# A nightly check whose worker died is not left until the next night either; no round takes as long.
BEGUN_AGAIN_AFTER = timedelta(hours=2)
# A nightly check that failed is not left until the next night.
TRIED_AGAIN_AFTER = timedelta(hours=1)

UNEXPECTED = kept_text(
    gettext_noop(
        "Something went wrong that the program did not expect; it is tried again by itself. "
        "The worker's log names the place."
    )
)


@dataclass(frozen=True)
class Kind:
    name: str
    label: Text
    work: Work
    every: timedelta


_kinds: dict[str, Kind] = {}


def register_routine(name: str, label: Text, work: Work, *, every: timedelta) -> None:
    """``work`` is handed the moment and returns a sentence about what it did, without any bitting: one of the
    texts that ``kept_text`` knows, filled and in English."""
    _kinds[name] = Kind(name, label, work, every)


def routine_kinds() -> list[Kind]:
    return [_kinds[name] for name in sorted(_kinds)]


def run_due(now: datetime | None = None) -> int:
    """Do what is due, one after the other; returns how many were done here."""
    done = 0
    for kind in _due(now or timezone.now()):
        if ending.is_asked:
            break
        # A round may take a while: each routine begins at its own moment.
        at = now or timezone.now()
        done += _claim(kind, at) and _do(kind, at)
    return done


def run_by_hand(name: str, now: datetime | None = None) -> Routine:
    """Do one now, due or not; refused where nobody registered it or a worker is at it."""
    now = now or timezone.now()
    kind = _kinds.get(name)
    if kind is None:
        known = ", ".join(sorted(_kinds)) or "none"
        raise Refused(f"There is no routine “{name}”. Known are: {known}.")
    _row(kind, now)
    if not _take(Routine.objects.filter(name=name), kind, now):
        raise Refused(_("A worker is at “{work}” just now. Wait until it has ended.").format(work=kind.label))
    _do(kind, now)
    return Routine.objects.get(name=name)


def _due(now: datetime) -> Iterator[Kind]:
    rows = {row.name: row for row in Routine.objects.filter(name__in=_kinds)}
    for kind in routine_kinds():
        row = rows.get(kind.name) or _row(kind, now)
        if row.next_at <= now or row.next_at > _farthest(kind, now):
            yield kind


def _farthest(kind: Kind, now: datetime) -> datetime:
    """Nothing is put off further; what is, was so by a clock that was ahead and has been set back."""
    return now + kind.every + GIVEN_UP_AFTER


def _row(kind: Kind, now: datetime) -> Routine:
    return Routine.objects.get_or_create(name=kind.name, defaults={"next_at": now})[0]


def _claim(kind: Kind, now: datetime) -> bool:
    """Take it where it is still due: of two workers one moves the row, the other finds it moved."""
    due = Q(next_at__lte=now) | Q(next_at__gt=_farthest(kind, now))
    return _take(Routine.objects.filter(due, name=kind.name), kind, now)


def _take(rows: QuerySet[Routine], kind: Kind, now: datetime) -> bool:
    """Whoever took it writes at the end when it is due again; who dies before leaves it to the next."""
    long_ago = Q(claimed_at__lt=now - GIVEN_UP_AFTER) | Q(claimed_at__gt=now + GIVEN_UP_AFTER)
    free = rows.filter(Q(claimed_at=None) | long_ago)
    return bool(free.update(claimed_at=now, next_at=now + min(kind.every, BEGUN_AGAIN_AFTER)))


def _do(kind: Kind, now: datetime) -> bool:
    """Do it and write down what came of it. No words of an exception are kept: they may quote a secret."""
    failed, next_at = False, now + kind.every
    try:
        sentence = kind.work(now)
    except OperationalError:
        # The database is busy or away; the claim runs out by itself.
        raise
    except Refused as refusal:
        failed, sentence = True, " ".join(refusal.sentences)
    except Exception as error:
        logger.error("Routine %s failed: %s", kind.name, trace_without_values(error))
        failed, sentence = True, UNEXPECTED
    if failed:
        next_at = now + min(kind.every, TRIED_AGAIN_AFTER)
    Routine.objects.filter(name=kind.name, claimed_at=now).update(
        claimed_at=None,
        last_run_at=now,
        ended_at=timezone.now(),
        last_sentence=sentence[: Routine.LONGEST_SENTENCE],
        failed=failed,
        next_at=next_at,
    )
    return True
