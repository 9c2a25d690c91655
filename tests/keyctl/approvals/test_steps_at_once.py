"""A decision meets another act at the same moment, each on a connection of its own: one clear answer."""

from functools import partial
from typing import Any

import pytest
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.ruling import rules_mark
from keyctl.approvals.services.escalating import escalate_silent_steps
from keyctl.audit.models import Event
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.approvals.test_two_managers_at_once import refusal_of
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def a_master(estate: Estate) -> KeyRequest:
    return estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))))


def test_of_two_officers_one_decides_the_step(estate: Estate) -> None:
    request = a_master(estate)
    second = factories.make_user("second", site=estate.cast.north, role=Role.OFFICER)
    outcomes = at_once(*[partial(estate.agree, request, who) for who in (estate.cast.officer, second)])
    winner = KeyRequest.objects.get(pk=request.pk).decided_by
    assert refusal_of(outcomes).message.startswith(f"{winner} already approved this request.")
    assert Event.objects.filter(verb="request.approved").count() == 1


def test_one_person_on_two_pages_decides_one_step(estate: Estate) -> None:
    """Manager and officer in one: both steps are open in two windows, and only the first is theirs."""
    Membership.objects.create(user=estate.cast.manager, site=estate.cast.north, role=Role.OFFICER)
    request = estate.ask(estate.door(estate.key("AA", is_master=True)))
    outcomes = at_once(partial(estate.choose, request), partial(estate.choose, request))
    assert refusal_of(outcomes).message.startswith("Manager already approved a step of this request.")
    assert [step.state for step in request.steps.all()] == ["approved", "waiting"]


def test_an_approval_that_meets_a_withdrawal_gives_no_key(estate: Estate) -> None:
    """Whoever asked may withdraw before and after: the request ends withdrawn, whichever was first."""
    request = a_master(estate)
    estate.stock(estate.system.symbols.get(symbol="AA"))
    withdraw = partial(services.withdraw_request, actor=estate.cast.requester, request=request)
    outcomes = at_once(partial(estate.agree, request, estate.cast.officer), withdraw)
    refusals = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
    assert [refusal.message.split(" Look")[0] for refusal in refusals] in (
        [],
        ["Requester withdrew this request."],
    )
    request.refresh_from_db()
    assert request.state == "withdrawn"
    assert request.grants.filter(reserved_copy__isnull=False).count() == 0


def test_an_approval_that_meets_a_new_rule_follows_what_its_page_showed(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    facts: dict[str, Any] = {"actor": estate.cast.manager, "request": request, "version": request.version}
    facts |= {"proposal": proposals_for(request)[0].key, "rules": rules_mark(estate.cast.north)}
    rule: dict[str, Any] = {"when": "always", "who": "officer", "silent_hours": 1}

    def add() -> KeyRequest:
        services.add_rule(actor=estate.cast.administrator, site=estate.cast.north, **rule)
        return request

    outcomes = at_once(lambda: services.approve_request(**facts), add)
    refusals = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
    request.refresh_from_db()
    if refusals:
        assert isinstance(refusals[0], Conflict)
        assert "The approval rules of North site changed while you looked" in refusals[0].message
        assert (request.state, request.grants.count()) == ("asked", 0)
    else:
        assert (request.state != "asked", request.steps.count()) == (True, 1)


def a_substitute(estate: Estate) -> tuple[User, Any]:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    today = timezone.localdate()
    facts: dict[str, Any] = {"person": estate.cast.manager, "stands_in": second, "since": today}
    row = services.name_substitute(actor=estate.cast.manager, site=estate.cast.north, until=today, **facts)
    return second, row


def test_a_decision_that_meets_the_end_of_its_substitution(estate: Estate) -> None:
    second, row = a_substitute(estate)
    request = estate.ask(estate.door(estate.key("AA1")))

    def end() -> KeyRequest:
        services.end_substitute(actor=estate.cast.manager, substitute=row)
        return request

    outcomes = at_once(partial(estate.choose, request, actor=second), end)
    step = Step.objects.get(request=request)
    if refusals := [outcome for outcome in outcomes if isinstance(outcome, Refused)]:
        assert refusals[0].message.startswith("You no longer stand in for Manager.")
        assert step.state == "waiting"
    else:
        assert (step.state, step.for_person) == ("approved", estate.cast.manager)


def test_a_decision_stands_beside_a_round_that_brings_it_before_others(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    step = request.steps.get()
    assert step.due_at is not None
    late = step.due_at

    def escalate() -> KeyRequest:
        escalate_silent_steps(late)
        return request

    outcomes = at_once(partial(estate.choose, request), escalate, escalate)
    assert [outcome for outcome in outcomes if isinstance(outcome, Refused)] == []
    step.refresh_from_db()
    assert (step.state, step.told in {"asked", "reminded"}) == ("approved", True)
    assert Event.objects.filter(verb="request.escalated").count() <= 1
