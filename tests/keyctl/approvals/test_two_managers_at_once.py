"""Two managers decide at the same moment, each on a connection of their own: one wins, one is told."""

from functools import partial

import pytest

from keyctl.accounts.models import User
from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.audit.models import Event
from keyctl.keys.models import Custody
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import BuildingManager
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)

# What an act gave, or its refusal.
Outcome = object


def second_manager(estate: Estate) -> User:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    BuildingManager.objects.create(building=estate.building, user=second)
    return second


def refusal_of(outcomes: list[Outcome]) -> Conflict:
    (refusal,) = (outcome for outcome in outcomes if isinstance(outcome, Refused))
    assert isinstance(refusal, Conflict)
    return refusal


def test_of_two_who_approve_at_once_one_wins(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    managers = [estate.cast.manager, second_manager(estate)]
    outcomes = at_once(*[partial(estate.approve, request, actor=who) for who in managers])
    winner = KeyRequest.objects.get(pk=request.pk).decided_by
    assert refusal_of(outcomes).message.startswith(f"{winner} already approved this request.")
    assert request.grants.count() == 1
    assert Event.objects.filter(verb="request.approved").count() == 1


def test_approving_and_refusing_at_once_leaves_one_decision(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    second = second_manager(estate)
    proposal = proposals_for(request)[0].key
    facts = {"request": request, "version": request.version, "note": "Both at once."}
    outcomes = at_once(
        lambda: services.approve_request(actor=estate.cast.manager, proposal=proposal, **facts),  # type: ignore[arg-type]
        lambda: services.refuse_request(actor=second, **facts),  # type: ignore[arg-type]
    )
    refusal_of(outcomes)
    request.refresh_from_db()
    assert request.grants.count() == (1 if request.state == "approved" else 0)


def test_two_clerks_do_not_hand_out_two_copies_for_one_key(estate: Estate) -> None:
    grant = estate.granted()
    copies = [estate.stock(grant.symbol), estate.stock(grant.symbol)]
    outcomes = at_once(*[partial(estate.hand_out, grant, copy) for copy in copies])
    assert "was already handed out" in refusal_of(outcomes).message
    assert Custody.objects.count() == 1
