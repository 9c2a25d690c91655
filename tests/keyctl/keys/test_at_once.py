"""Two people act at the same moment, each on a connection of their own: one wins, the other is told why."""

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from keyctl.approvals import services as requests
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.keys import services
from keyctl.keys.law import breaches
from keyctl.keys.models import Custody, Handover, KeyCopy
from keyctl.keys.services import Signature
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Site
from keyctl.places.roles import Role
from tests import factories, together
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.approvals.estate import set_up as set_up_estate
from tests.keyctl.keys.keyroom import KeyRoom
from tests.keyctl.machine.world import assert_says_why

pytestmark = pytest.mark.django_db(transaction=True)

SIGNED = Signature("Holder One")


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return set_up_estate(cast)


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """What each act gave, or was refused with. Nobody is stopped in any other way."""
    outcomes = together.at_once(*acts)
    assert breaches(Site.objects.all()) == []
    return outcomes


def refused(outcomes: list[Any]) -> Refused:
    """The one that lost, who was told why and what to do."""
    (refusal,) = (each for each in outcomes if isinstance(each, Refused))
    assert_says_why(refusal)
    return refusal


def issue(room: KeyRoom, *copies: KeyCopy, holder: Any = None) -> Callable[[], Handover]:
    facts: dict[str, Any] = {"actor": room.desk, "holder": holder or room.holder, "signature": SIGNED}
    return partial(services.issue_keys, copies=copies, **facts)


def test_of_two_lists_that_share_a_key_one_is_issued_whole(room: KeyRoom) -> None:
    first, shared, last = (room.in_stock() for _ in range(3))
    other = factories.make_holder(room.site)
    outcomes = at_once(issue(room, first, shared), issue(room, last, shared, holder=other))
    assert "is already out, with" in refused(outcomes).message
    assert Handover.objects.count() == 1
    assert Custody.objects.count() == 2
    assert KeyCopy.objects.filter(state="in-cabinet").count() == 1


def test_two_acts_at_a_site_have_two_numbers(room: KeyRoom) -> None:
    at_once(issue(room, room.in_stock()), issue(room, room.in_stock()))
    assert sorted(Handover.objects.values_list("number", flat=True)) == [1, 2]


def test_a_copy_lost_while_it_is_issued_is_lost_in_either_order(room: KeyRoom) -> None:
    copy = room.in_stock()
    lose = partial(services.report_lost, actor=room.cast.officer, copy=copy, note="Gone.")
    outcomes = at_once(issue(room, copy), lose)
    if any(isinstance(each, Refused) for each in outcomes):
        assert "is reported lost" in refused(outcomes).message
    copy.refresh_from_db()
    assert (copy.state, copy.holder, copy.custody) == ("lost", None, None)
    assert not Custody.objects.filter(ended_at=None).exists()


def test_a_key_is_taken_back_once(room: KeyRoom) -> None:
    copy = room.held()
    give = partial(services.return_keys, actor=room.desk, copies=[copy], cabinet=room.cabinet)
    assert "is not out: it is in" in refused(at_once(give, give)).message
    assert Handover.objects.filter(way="back").count() == 1


def test_a_key_is_returned_or_transferred_but_not_by_both_from_the_giver(room: KeyRoom) -> None:
    copy, taker = room.held(), factories.make_holder(room.site)
    give = partial(services.return_keys, actor=room.desk, copies=[copy], cabinet=room.cabinet)
    transfer = partial(services.transfer_keys, actor=room.desk, copies=[copy], to=taker, signature=SIGNED)
    outcomes = at_once(give, transfer)
    if any(isinstance(each, Refused) for each in outcomes):
        assert "Hand it out instead" in refused(outcomes).message
    copy.refresh_from_db()
    # Whoever was first, the return is the last word: a transferred key comes back from its taker.
    assert copy.state == "in-cabinet"


def test_a_deposit_is_settled_once(room: KeyRoom) -> None:
    copy = room.in_stock()
    act = services.issue_keys(
        actor=room.desk, holder=room.holder, copies=[copy], signature=SIGNED, deposit=500
    )
    room.take_back(copy)
    give = partial(services.give_back_deposit, actor=room.desk, deposit=act.deposit)
    keep = partial(services.keep_deposit, actor=room.desk, deposit=act.deposit, reason="Bent.")
    assert isinstance(refused(at_once(give, keep)), Conflict)


def test_nobody_who_leaves_walks_off_with_a_key(room: KeyRoom) -> None:
    copy = room.in_stock()
    end = partial(services.deactivate_holder, actor=room.desk, holder=room.holder)
    outcomes = at_once(issue(room, copy), end)
    if any(isinstance(each, Refused) for each in outcomes):
        assert "no longer receives keys" in refused(outcomes).message
        assert KeyCopy.objects.get(pk=copy.pk).state == "in-cabinet"
    else:
        # Issued first: whoever calls keys back was told of the holder afterwards.
        assert KeyCopy.objects.get(pk=copy.pk).state == "held"


def test_what_is_withdrawn_while_it_is_approved_sets_nothing_aside(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    estate.stock(key)
    proposal = proposals_for(request)[0].key
    facts: dict[str, Any] = {"request": request, "version": request.version, "proposal": proposal}
    outcomes = at_once(
        partial(requests.approve_request, actor=estate.cast.manager, **facts),
        partial(requests.withdraw_request, actor=estate.cast.requester, request=request),
    )
    if any(isinstance(each, Refused) for each in outcomes):
        assert "withdrew this request" in refused(outcomes).message
    assert KeyRequest.objects.get(pk=request.pk).state == "withdrawn"
    assert not Grant.objects.filter(reserved_copy__isnull=False).exists()


def test_keys_of_a_request_are_collected_once(estate: Estate) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = estate.approve(estate.ask(estate.door(key)))
    copy = request.grants.get().reserved_copy
    assert copy is not None
    facts: dict[str, Any] = {"request": request, "copies": [copy], "signature": SIGNED}
    second = factories.make_user("second-clerk", site=estate.cast.north, role=Role.KEY_DESK)
    outcomes = at_once(
        *(partial(requests.collect, actor=actor, **facts) for actor in (estate.cast.desk, second))
    )
    assert "was already handed out" in refused(outcomes).message
    assert Custody.objects.count() == 1


def test_collecting_and_leaving_at_once_stop_nobody_for_ever(estate: Estate) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = estate.approve(estate.ask(estate.door(key)))
    copy = request.grants.get().reserved_copy
    assert copy is not None
    facts: dict[str, Any] = {"request": request, "copies": [copy], "signature": SIGNED}
    outcomes = at_once(
        partial(requests.collect, actor=estate.cast.desk, **facts),
        partial(services.deactivate_holder, actor=estate.cast.desk, holder=estate.holder),
    )
    state = KeyRequest.objects.get(pk=request.pk).state
    if any(isinstance(each, Refused) for each in outcomes):
        refused(outcomes)
        assert (state, KeyCopy.objects.get(pk=copy.pk).state) == ("withdrawn", "in-cabinet")
    else:
        assert (state, KeyCopy.objects.get(pk=copy.pk).state) == ("handed-out", "held")
