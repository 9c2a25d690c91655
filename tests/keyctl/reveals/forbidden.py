"""What no permission, look or limit may be, for the test that asks the database itself."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.audit.services import record
from keyctl.reveals.models import Limits, Permission, Reveal
from tests.cast import Cast


def a_permission(cast: Cast, **facts: Any) -> Permission:
    given: dict[str, Any] = {"kind": "key", "subject_id": cast.north.pk, "words": "a key", "site": cast.north}
    given |= {"asked_by": cast.locksmith, "reason": "Lost"} | facts
    return Permission.objects.create(**given)


def two_permissions_at_a_time(cast: Cast) -> None:
    for _ in range(2):
        a_permission(cast)


def granted(cast: Cast, **facts: Any) -> Permission:
    now = timezone.now()
    given: dict[str, Any] = {
        "state": "granted",
        "decided_by": cast.officer,
        "decided_at": now,
        "decision": "Yes",
    }
    return a_permission(cast, **(given | {"until": now + timedelta(hours=1)} | facts))


def a_look(cast: Cast, **facts: Any) -> None:
    event = record(actor=cast.locksmith, verb="test.looked", sentence="looked")
    given: dict[str, Any] = {"kind": "key", "subject_id": cast.north.pk, "words": "a key", "site": cast.north}
    given |= {"actor": cast.locksmith, "by": "work", "ground": "for order 1", "event": event}
    Reveal.objects.create(**(given | facts))


def limits(cast: Cast, **facts: Any) -> None:
    Limits.objects.create(site=cast.north, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "permission_says_what_and_why": lambda cast: a_permission(cast, reason=""),
    "permission_is_asked_for_once": two_permissions_at_a_time,
    "nobody_permits_what_they_ask_for": lambda cast: granted(cast, decided_by=cast.locksmith),
    "permission_decided_says_who_when_and_why": lambda cast: granted(cast, decision=""),
    "permission_that_is_granted_ends": lambda cast: granted(cast, until=timezone.now() - timedelta(hours=1)),
    "permission_is_used_while_it_lasts": lambda cast: granted(
        cast, used_at=timezone.now() + timedelta(hours=2)
    ),
    "permission_withdrawn_says_when": lambda cast: a_permission(cast, withdrawn_at=timezone.now()),
    "only_more_than_the_quota_has_a_number": lambda cast: a_permission(cast, count=5),
    "reveal_says_what_and_on_what_ground": lambda cast: a_look(cast, ground=""),
    "reveal_names_the_permission_it_rests_on": lambda cast: a_look(cast, by="permission"),
    "what_stands_above_change_keys_takes_two": lambda cast: a_look(cast, is_high=True),
    "second_person_is_another": lambda cast: a_look(cast, second=cast.locksmith),
    "reveal_limits_keep_their_bounds": lambda cast: limits(cast, alone_an_hour=61),
}
