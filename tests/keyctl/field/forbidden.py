"""What the database itself refuses of tablets, events and cases; tried in the tests of the invariants."""

import uuid
from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.field.models import (
    CaseCore,
    CaseHousing,
    CaseStory,
    Device,
    DeviceUser,
    FieldEvent,
    ReconcileCase,
    RejectedEvent,
)
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import make_core


def a_device(cast: Cast, **facts: Any) -> Device:
    facts = {"name": "Tablet", "digest": "0" * 64} | facts
    return Device.objects.create(site=cast.north, owner=cast.locksmith, **facts)


def an_event(cast: Cast, **facts: Any) -> FieldEvent:
    facts = {"sequence": 1, "kind": "put", "outcome": "applied", "via": "tablet"} | facts
    return FieldEvent.objects.create(
        claimed_at=timezone.now(), sender=cast.locksmith, digest="0" * 64, **facts
    )


def a_case(cast: Cast, **facts: Any) -> ReconcileCase:
    facts.setdefault("number", ReconcileCase.objects.count() + 1)
    return ReconcileCase.objects.create(site=cast.north, **facts)


def twice(make: Callable[[], object]) -> None:
    make()
    make()


def a_user_known_twice(cast: Cast) -> None:
    device = a_device(cast)
    twice(lambda: DeviceUser.objects.create(device=device, user=cast.locksmith))


def a_core_in_a_case_twice(cast: Cast) -> None:
    case, core = a_case(cast), make_core(cast.north, by=cast.locksmith)
    for is_open in (True, False):
        CaseCore.objects.create(case=case, core=core, is_open=is_open)


def a_core_in_two_open_cases(cast: Cast) -> None:
    core = make_core(cast.north, by=cast.locksmith)
    twice(lambda: CaseCore.objects.create(case=a_case(cast), core=core))


def a_housing_in_a_case_twice(cast: Cast) -> None:
    case, housing = a_case(cast), factories.make_housing(cast.north)
    for is_open in (True, False):
        CaseHousing.objects.create(case=case, housing=housing, is_open=is_open)


def a_housing_in_two_open_cases(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    twice(lambda: CaseHousing.objects.create(case=a_case(cast), housing=housing))


def a_story_twice(cast: Cast) -> None:
    now = timezone.now()
    facts = {"case": a_case(cast), "event": an_event(cast), "claimed_at": now, "received_at": now}
    twice(lambda: CaseStory.objects.create(**facts))


def the_same_rejected_twice(cast: Cast) -> None:
    pk = uuid.uuid4()
    twice(lambda: RejectedEvent.objects.create(event_id=pk, digest="0" * 64, sender=cast.locksmith))


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "core_dispute_names_its_case": lambda cast: make_core(
        cast.north, by=cast.locksmith, disputed_at=timezone.now()
    ),
    "device_knows_a_user_once": a_user_known_twice,
    "device_has_a_name": lambda cast: a_device(cast, name=""),
    "device_withdrawn_says_by_whom_and_why": lambda cast: a_device(cast, withdrawn_at=timezone.now()),
    "field_event_has_an_outcome": lambda cast: an_event(cast, outcome="rejected"),
    "field_event_out_of_quarantine_says_by_whom": lambda cast: an_event(cast, quarantine="taken-in"),
    "field_event_counts_from_one": lambda cast: an_event(cast, sequence=0),
    "rejected_event_is_kept_once": the_same_rejected_twice,
    "reconcile_case_number_is_unique": lambda cast: twice(lambda: a_case(cast, number=7)),
    "reconcile_case_settled_says_by_whom_and_why": lambda cast: a_case(cast, state="settled"),
    "reconcile_case_merged_says_into_which": lambda cast: a_case(cast, state="merged"),
    "case_names_a_core_once": a_core_in_a_case_twice,
    "core_stands_in_one_open_case": a_core_in_two_open_cases,
    "case_names_a_housing_once": a_housing_in_a_case_twice,
    "housing_stands_in_one_open_case": a_housing_in_two_open_cases,
    "case_holds_a_story_once": a_story_twice,
}
