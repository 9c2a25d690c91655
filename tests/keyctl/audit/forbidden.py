"""What the constraints of history forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.audit.models import Event, EventSubject, Head, Link
from keyctl.audit.services import record
from tests.cast import Cast


def an_entry_numbered_nought(cast: Cast) -> None:
    event = record(actor=cast.locksmith, verb="a.b", sentence="did something")
    Link.objects.create(number=0, event=event, before=bytes(32), hash=bytes(32))


def a_second_head(cast: Cast) -> None:
    Head.objects.create(id=2, number=0, hash=bytes(32))


def an_entry(cast: Cast, **facts: Any) -> Event:
    given = {"verb": "a.b", "sentence": "did something", "actor": cast.locksmith, "actor_name": "Lock Smith"}
    return Event.objects.create(**given | facts)


def one_subject_named_twice(cast: Cast) -> None:
    event = an_entry(cast)
    for _ in range(2):
        EventSubject.objects.create(event=event, kind="places.site", subject_id=cast.north.pk)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "event_has_a_verb": lambda cast: an_entry(cast, verb=""),
    "event_has_a_sentence": lambda cast: an_entry(cast, sentence=""),
    "event_names_a_subject_once": one_subject_named_twice,
    "history_counts_from_one": an_entry_numbered_nought,
    "history_has_one_head": a_second_head,
}
