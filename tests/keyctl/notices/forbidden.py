"""What the constraints of notices forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from keyctl.notices.models import Notice, NoticeTry
from tests.cast import Cast


def a_notice(cast: Cast, times: int = 1, **facts: Any) -> None:
    facts = {"kind": "test", "to": "ann@example.org", "subject": "Test", "body": "Test"} | facts
    for _ in range(times):
        Notice.objects.create(site=cast.north, **facts)


def a_notice_about_a_thing_twice(cast: Cast) -> None:
    a_notice(cast)
    for _ in range(2):
        Notice.objects.get().subjects.create(kind="places.site", subject_id=cast.north.pk)


def a_try_without_an_outcome(cast: Cast) -> None:
    a_notice(cast)
    NoticeTry.objects.create(notice=Notice.objects.get())


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "notice_is_written_once": lambda cast: a_notice(cast, times=2, once_key="due"),
    "notice_that_is_sent_says_when": lambda cast: a_notice(cast, state="sent"),
    "notice_goes_to_somebody": lambda cast: a_notice(cast, to=""),
    "notice_that_failed_says_why": lambda cast: a_notice(cast, state="failed"),
    "notice_attachment_is_named": lambda cast: a_notice(cast, attachment_kind="receipt"),
    "notice_names_a_subject_once": a_notice_about_a_thing_twice,
    "notice_try_has_an_outcome": a_try_without_an_outcome,
}
