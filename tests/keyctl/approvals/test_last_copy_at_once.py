"""The last copy in stock and two requests for it at the same moment: one gets it, the other has one cut."""

from functools import partial

import pytest

from keyctl.approvals import services
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.keys.models import Custody, KeyCopy
from keyctl.keys.signing import Signature
from keyctl.orders.models import WorkOrder
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.approvals.test_two_managers_at_once import refusal_of, second_manager
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_last_copy_goes_to_one_request_and_the_other_gets_an_order(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    requests = [estate.ask(estate.door(key)) for _ in range(2)]
    managers = [estate.cast.manager, second_manager(estate)]
    acts = [
        partial(
            services.approve_request,
            actor=who,
            request=request,
            version=request.version,
            proposal=proposals_for(request)[0].key,
        )
        for who, request in zip(managers, requests, strict=True)
    ]
    assert all(isinstance(outcome, KeyRequest) for outcome in at_once(*acts))
    states = sorted(KeyRequest.objects.values_list("state", flat=True))
    assert states == ["approved", "ready"]
    assert Grant.objects.get(reserved_copy=copy).request.state == "ready"
    assert Grant.objects.get(reserved_copy=None).order_line is not None
    assert WorkOrder.objects.get().lines.get().count == 1


def test_collecting_twice_at_once_gives_one_key(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = estate.approve(estate.ask(estate.door(key)))
    act = partial(
        services.collect, actor=estate.cast.desk, request=request, copies=[copy], signature=Signature("H One")
    )
    refusal_of(at_once(act, act))
    assert Custody.objects.count() == 1
    assert KeyCopy.objects.get().state == "held"


def test_collecting_and_withdrawing_at_once_leaves_one_of_them(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = estate.approve(estate.ask(estate.door(key)))
    collect = partial(
        services.collect, actor=estate.cast.desk, request=request, copies=[copy], signature=Signature("H One")
    )
    withdraw = partial(services.withdraw_request, actor=estate.cast.requester, request=request)
    outcomes = at_once(collect, withdraw)
    assert sum(isinstance(outcome, Exception) for outcome in outcomes) == 1
    request.refresh_from_db()
    assert Custody.objects.count() == (1 if request.state == "handed-out" else 0)
