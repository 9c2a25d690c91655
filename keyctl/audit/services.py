"""Writing history. Called last in every service, inside its transaction: no change without its event."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from itertools import chain
from typing import TYPE_CHECKING, Any

from django.db import connection, models, transaction
from django.utils import timezone

from keyctl.audit.models import Event, EventSubject
from keyctl.lib.numbering import number_of_request

if TYPE_CHECKING:
    from keyctl.accounts.models import User

Subjects = Sequence[models.Model]
# What the program does by itself, round after round, nobody did.
PROGRAM = "keyctl"
SUBJECT = "INSERT INTO audit_eventsubject (event_id, kind, subject_id) VALUES "
# In one statement; a database takes a few thousand values at most.
SUBJECTS_AT_ONCE = 100


@transaction.atomic(savepoint=False)
def record(
    *,
    actor: "User | None",
    verb: str,
    sentence: str,
    site_id: Any = None,
    subjects: Subjects = (),
    detail: dict[str, Any] | None = None,
) -> Event:
    """Append one event, of nobody where the program did it itself. Neither ``detail`` nor ``sentence`` ever
    holds a bitting or a pin."""
    event = new_event(actor=actor, verb=verb, sentence=sentence, site_id=site_id, detail=detail)
    event.append()
    _write_subjects((event.pk, *subject) for subject in _named(subjects))
    return event


@transaction.atomic(savepoint=False)
def record_many(events: Iterable[tuple[Event, Subjects]], *, batch: int = 2000) -> int:
    """Append events made by ``new_event`` in bulk (imports, the invented estate); returns how many."""
    pairs = list(events)
    made = Event.objects.bulk_create([event for event, _ in pairs], batch_size=batch)
    _write_subjects(
        (event.pk, *subject)
        for event, (_, subjects) in zip(made, pairs, strict=True)
        for subject in _named(subjects)
    )
    return len(pairs)


def _write_subjects(rows: Iterable[tuple[int, str, Any]]) -> None:
    """Without a model for each: of a million events there are over two millions of them."""
    keep = EventSubject._meta.get_field("subject_id").get_db_prep_value
    kept = [(event, kind, keep(pk, connection, True)) for event, kind, pk in rows]
    with connection.cursor() as cursor:
        for start in range(0, len(kept), SUBJECTS_AT_ONCE):
            part = kept[start : start + SUBJECTS_AT_ONCE]
            marks = ", ".join(["(%s, %s, %s)"] * len(part))
            cursor.execute(SUBJECT + marks, list(chain.from_iterable(part)))


def new_event(
    *,
    actor: "User | None",
    verb: str,
    sentence: str,
    site_id: Any = None,
    detail: dict[str, Any] | None = None,
    at: datetime | None = None,
) -> Event:
    return Event(
        at=at or timezone.now(),
        actor=actor,
        actor_name=actor.display_name if actor else PROGRAM,
        site_id=site_id,
        verb=verb,
        sentence=sentence,
        detail=detail or {},
        request=number_of_request() or None,
    )


def _named(subjects: Subjects) -> set[tuple[str, Any]]:
    return {(thing._meta.label_lower, thing.pk) for thing in subjects}
