"""What the database refuses about requests, their steps, their rules and substitutes: one try for each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.approvals.models import ApprovalRule, Grant, KeyRequest, RequestSettings, Step, Substitute
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system


def a_request(cast: Cast, **facts: Any) -> KeyRequest:
    facts = {"requester": cast.requester, "reason": "Work"} | facts
    return KeyRequest.objects.create(
        building=factories.make_floor(cast.north).building,
        holder=factories.make_holder(cast.north),
        **facts,
    )


def approved(cast: Cast, **facts: Any) -> KeyRequest:
    return a_request(cast, state="approved", **facts)


def a_step(cast: Cast, request: KeyRequest | None = None, **facts: Any) -> Step:
    request = request or a_request(cast)
    facts = {"ordinal": 1, "who": "building", "asked_by": cast.requester} | facts
    return Step.objects.create(request=request, label="Manager", why="Always.", **facts)


def decided(cast: Cast, **facts: Any) -> dict[str, Any]:
    now = timezone.now()
    told: dict[str, Any] = {"state": "approved", "since": now, "due_at": now, "decided_at": now}
    return told | {"decided_by": cast.manager} | facts


def a_rule(cast: Cast, **facts: Any) -> ApprovalRule:
    facts = {"ordinal": 1, "when": "master", "who": "officer"} | facts
    return ApprovalRule.objects.create(site=cast.north, **facts)


def a_substitute(cast: Cast, **facts: Any) -> Substitute:
    today = timezone.localdate()
    facts = {"person": cast.manager, "stands_in": cast.officer, "since": today, "until": today} | facts
    return Substitute.objects.create(site=cast.north, named_by=cast.administrator, **facts)


def a_grant(cast: Cast, **facts: Any) -> Grant:
    symbol = facts.pop("symbol", None) or a_key(cast)
    request = facts.pop("request", None) or a_request(cast)
    facts = {"is_master": False, "approved_by": cast.manager} | facts
    return Grant.objects.create(request=request, symbol=symbol, **facts)


def a_key(cast: Cast) -> KeySymbol:
    return bare_key(bare_system(cast.north, actor=cast.administrator), "AA1")


def one_key_granted_twice(cast: Cast) -> None:
    request, symbol = a_request(cast), a_key(cast)
    for _ in range(2):
        a_grant(cast, request=request, symbol=symbol)


def a_master_handed_out_by_who_approved_it(cast: Cast) -> None:
    symbol = a_key(cast)
    copy = factories.make_copy(symbol, factories.make_cabinet(cast.north))
    a_grant(cast, symbol=symbol, is_master=True, copy=copy, handed_out_by=cast.manager)


def one_copy_set_aside_twice(cast: Cast) -> None:
    symbol = a_key(cast)
    copy = factories.make_copy(symbol, factories.make_cabinet(cast.north))
    for _ in range(2):
        a_grant(cast, symbol=symbol, reserved_copy=copy)


def a_copy_set_aside_after_hand_out(cast: Cast) -> None:
    symbol = a_key(cast)
    copy = factories.make_copy(symbol, factories.make_cabinet(cast.north))
    a_grant(cast, symbol=symbol, reserved_copy=copy, copy=copy, handed_out_by=cast.desk)


def two_steps_in_one_place(cast: Cast) -> None:
    request = a_request(cast)
    for _ in range(2):
        a_step(cast, request)


def two_steps_at_a_time(cast: Cast) -> None:
    request, now = a_request(cast), timezone.now()
    for ordinal in (1, 2):
        a_step(cast, request, ordinal=ordinal, since=now, due_at=now)


def one_person_for_two_steps_apart(cast: Cast) -> None:
    request = a_request(cast)
    for ordinal in (1, 2):
        a_step(cast, request, ordinal=ordinal, is_apart=True, **decided(cast))


def two_rules_in_one_place(cast: Cast) -> None:
    for _ in range(2):
        a_rule(cast)


def a_period_that_ends_first(cast: Cast) -> None:
    today = timezone.localdate()
    a_request(cast, starts_on=today, needed_until=today - timedelta(days=1))


def a_substitution_that_ends_first(cast: Cast) -> None:
    a_substitute(cast, until=timezone.localdate() - timedelta(days=1))


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "key_request_that_is_ready_says_since_when": lambda cast: a_request(
        cast, state="ready", decided_by=cast.manager, decided_at=timezone.now()
    ),
    "key_request_ends_after_it_starts": a_period_that_ends_first,
    "request_grants_a_key_once": one_key_granted_twice,
    "grant_says_which_copy_and_by_whom": lambda cast: a_grant(cast, handed_out_by=cast.desk),
    "who_approves_a_master_does_not_hand_it_out": a_master_handed_out_by_who_approved_it,
    "key_copy_is_set_aside_once": one_copy_set_aside_twice,
    "grant_sets_nothing_aside_once_handed_out": a_copy_set_aside_after_hand_out,
    "approval_rule_has_its_place_at_a_site": two_rules_in_one_place,
    "approval_rule_says_when_it_holds": lambda cast: a_rule(cast, when="level"),
    "approval_rule_waits_at_least_an_hour": lambda cast: a_rule(cast, silent_hours=0),
    "nobody_is_their_own_substitute": lambda cast: a_substitute(cast, stands_in=cast.manager),
    "substitution_ends_after_it_began": a_substitution_that_ends_first,
    "substitution_that_was_ended_says_by_whom": lambda cast: a_substitute(cast, ended_at=timezone.now()),
    "step_has_its_place_in_its_request": two_steps_in_one_place,
    "key_request_waits_for_one_step_at_a_time": two_steps_at_a_time,
    "steps_apart_are_decided_by_different_people": one_person_for_two_steps_apart,
    "step_decision_says_who_and_when": lambda cast: a_step(cast, state="approved"),
    "step_that_waits_says_until_when": lambda cast: a_step(cast, since=timezone.now()),
    "nobody_decides_a_step_they_asked_for": lambda cast: a_step(
        cast, **decided(cast, decided_by=cast.requester)
    ),
    "nobody_decides_a_step_for_themselves": lambda cast: a_step(
        cast, asked_for=cast.manager, **decided(cast)
    ),
    "no_substitute_decides_for_whom_they_stand_in": lambda cast: a_step(
        cast, **decided(cast, for_person=cast.requester)
    ),
    "nobody_decides_as_their_own_substitute": lambda cast: a_step(
        cast, **decided(cast, for_person=cast.manager)
    ),
    "critical_doors_are_known_to_somebody_named": lambda cast: RequestSettings.objects.create(
        site=cast.north, critical_doors="some"
    ),
    "keys_lie_ready_for_a_day_at_least": lambda cast: RequestSettings.objects.create(
        site=cast.north, collect_days=0
    ),
    "who_decides_a_step_does_not_hand_its_master_out": lambda cast: a_step(
        cast, **decided(cast, master_out_by=cast.manager)
    ),
    "nobody_decides_their_own_request": lambda cast: approved(
        cast, requester=cast.manager, decided_by=cast.manager, decided_at=timezone.now()
    ),
    "nobody_decides_a_key_for_themselves": lambda cast: approved(
        cast, holder_user=cast.manager, decided_by=cast.manager, decided_at=timezone.now()
    ),
    "key_request_decision_says_who_and_when": approved,
}
