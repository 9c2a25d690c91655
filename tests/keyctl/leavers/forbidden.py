"""What the database itself refuses of leavers and people; tried one by one in tests of invariants."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.directory.models import DirectoryEntry, EndedSignIn, MissingPerson, PeopleList
from keyctl.keys.models import Person
from keyctl.leavers.models import LeaverCase, LeaverRules
from tests import factories
from tests.cast import Cast


def a_case(cast: Cast, times: int = 1, **facts: Any) -> None:
    holder = factories.make_holder(cast.north)
    for _ in range(times):
        LeaverCase.objects.create(holder=holder, why="by-hand", **facts)


def closed(**facts: Any) -> dict[str, Any]:
    return {"state": "closed", "closed_at": timezone.now(), **facts}


def a_person(**facts: Any) -> Person:
    return Person.objects.create(display_name="Ada Example", **facts)


def a_list(cast: Cast, **facts: Any) -> PeopleList:
    facts = {"name": "l.csv", "digest": "0" * 64, "content": b"sealed"} | facts
    return PeopleList.objects.create(uploaded_by=cast.administrator, **facts)


def a_sign_in_ended_twice(cast: Cast) -> None:
    for _ in range(2):
        EndedSignIn.objects.create(person=a_person(), user=cast.requester)


def somebody_missing(cast: Cast, times: int = 1, **facts: Any) -> None:
    listed, person = a_list(cast), a_person()
    for _ in range(times):
        MissingPerson.objects.create(people_list=listed, person=person, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "leaver_has_one_open_case_at_a_site": lambda cast: a_case(cast, times=2),
    "leaver_case_says_how_it_ended": lambda cast: a_case(cast, **closed()),
    "leaver_case_is_closed_by_hand_with_a_reason": lambda cast: a_case(cast, **closed(outcome="reason")),
    "leaver_pause_says_why_and_until_when": lambda cast: a_case(cast, paused_until=timezone.localdate()),
    "leaver_reminders_are_apart_and_end": lambda cast: LeaverRules.objects.create(
        site=cast.north, repeat_days=0
    ),
    "directory_source_is_known": lambda _: DirectoryEntry.objects.create(person=a_person(), source="rumour"),
    "sign_in_ended_once_until_it_begins": a_sign_in_ended_twice,
    "people_list_is_deleted_when_it_ends": lambda cast: a_list(
        cast, state="applied", ended_at=timezone.now()
    ),
    "person_is_missing_from_a_list_once": lambda cast: somebody_missing(cast, times=2),
    "missing_person_decision_says_who": lambda cast: somebody_missing(cast, state="left"),
}
