from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.approvals.models import Grant, KeyRequest
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Custody
from keyctl.keys.services import Signature, issue_keys, take_back, transfer_keys
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, post, statuses


def test_only_the_key_desk_hands_out(estate: Estate) -> None:
    people = dict.fromkeys(estate.cast.everybody, 403) | {"desk": 200, "stranger": 404}
    assert statuses(estate.cast, "hand-out", estate.granted().pk) == people


def test_the_copy_is_with_the_holder_until_the_last_day(estate: Estate) -> None:
    last_day = timezone.localdate() + timedelta(days=9)
    request = estate.ask(estate.door(estate.key("AA1")), needed_until=last_day)
    grant = estate.hand_out(estate.approve(request).grants.get())
    custody = Custody.objects.get(copy=grant.copy)
    assert (custody.holder, custody.signed_as) == (estate.holder, "Holder One")
    assert custody.due_at == end_of_day(last_day)
    assert grant.handed_out_by == estate.cast.desk


def test_the_request_is_handed_out_when_its_last_key_is(estate: Estate) -> None:
    request = estate.approve(estate.ask(estate.door(estate.key("AA1")), estate.door(estate.key("BB1"))))
    states = []
    for grant in request.grants.all():
        estate.hand_out(grant)
        states.append(KeyRequest.objects.get(pk=request.pk).state)
    assert states == ["approved", "handed-out"]


def test_request_and_copy_remember_it(estate: Estate) -> None:
    grant = estate.hand_out(estate.granted())
    assert grant.copy is not None
    for thing in (grant.request, grant.copy):
        event = history_of(thing)[0]
        assert event.verb == "request.handed_out"
        assert event.sentence == f"handed out copy {grant.copy} on the request of Requester"


def test_a_key_is_handed_out_once(estate: Estate) -> None:
    grant = estate.hand_out(estate.granted())
    with pytest.raises(Conflict, match=f"already handed out, as copy {grant.copy}"):
        estate.hand_out(grant)


def test_a_copy_of_another_key_is_refused(estate: Estate) -> None:
    with pytest.raises(Refused, match="is not a copy of"):
        estate.hand_out(estate.granted(), estate.stock(estate.key("ZZ1")))


def test_a_lost_copy_is_refused_as_at_the_desk(estate: Estate) -> None:
    grant = estate.granted()
    copy = estate.stock(grant.symbol)
    type(copy).objects.filter(pk=copy.pk).update(state="lost", cabinet=None)
    with pytest.raises(Refused, match="is reported lost"):
        estate.hand_out(grant, copy)


def master_grant(estate: Estate) -> Grant:
    """Approved by a manager who also works at the desk."""
    Membership.objects.create(user=estate.cast.manager, site=estate.cast.north, role=Role.KEY_DESK)
    return estate.granted(estate.key("AA", is_master=True))


def test_who_approves_a_master_does_not_hand_it_out(estate: Estate) -> None:
    grant = master_grant(estate)
    with pytest.raises(Refused, match=r"You approved this master key\. Somebody else at the desk"):
        estate.hand_out(grant, actor=estate.cast.manager)
    assert estate.hand_out(grant).handed_out_by == estate.cast.desk


def test_who_approves_a_change_key_may_hand_it_out(estate: Estate) -> None:
    Membership.objects.create(user=estate.cast.manager, site=estate.cast.north, role=Role.KEY_DESK)
    grant = estate.hand_out(estate.granted(), actor=estate.cast.manager)
    assert grant.handed_out_by == estate.cast.manager


def test_the_database_itself_forbids_handing_out_a_master_one_approved(estate: Estate) -> None:
    grant = master_grant(estate)
    with pytest.raises(IntegrityError, match="who_approves_a_master_does_not_hand_it_out"):
        Grant.objects.filter(pk=grant.pk).update(
            copy=estate.stock(grant.symbol), handed_out_by=estate.cast.manager
        )


def test_without_a_copy_in_stock_the_page_offers_to_cut_one(estate: Estate, client: Client) -> None:
    grant = estate.granted()
    text = page(client, estate.cast.desk, "hand-out", grant.pk)
    assert "No copy in stock" in text
    assert f'href="{reverse("keys:cut", args=[estate.cast.north.pk])}?symbol={grant.symbol_id}"' in text


def test_the_page_offers_the_copies_in_the_cabinets_of_the_site(estate: Estate, client: Client) -> None:
    grant = estate.granted()
    here = estate.stock(grant.symbol)
    elsewhere = factories.make_copy(grant.symbol, factories.make_cabinet(estate.cast.south))
    text = page(client, estate.cast.desk, "hand-out", grant.pk)
    assert f"{here}, in {estate.cabinet}" in text
    assert str(elsewhere) not in text


def test_the_page_hands_out(estate: Estate, client: Client) -> None:
    grant = estate.granted()
    facts = {"copy": estate.stock(grant.symbol).pk, "signed_as": "Holder One"}
    response = post(client, estate.cast.desk, "hand-out", grant.pk, **facts)
    assert response.url == reverse("approvals:detail", args=[grant.request_id])
    assert Custody.objects.get().holder == estate.holder


def test_the_page_wants_a_signature(estate: Estate, client: Client) -> None:
    grant = estate.granted()
    facts = {"copy": estate.stock(grant.symbol).pk, "signed_as": ""}
    assert post(client, estate.cast.desk, "hand-out", grant.pk, **facts).status_code == 422
    assert Custody.objects.count() == 0


def test_who_approved_a_master_gives_it_to_the_holder_by_no_other_way(estate: Estate) -> None:
    Membership.objects.create(user=estate.cast.officer, site=estate.cast.north, role=Role.KEY_DESK)
    master = estate.key("AA", is_master=True)
    request = estate.approve(estate.ask(estate.door(master)))
    first, another, passed_on = (estate.stock(master) for _ in range(3))
    signed = Signature("Holder One")
    facts: dict[str, Any] = {"actor": estate.cast.officer, "holder": estate.holder, "signature": signed}
    with pytest.raises(Refused, match="You approved the master key AA for Holder One"):
        issue_keys(copies=[another], **facts)
    friend = factories.make_holder(estate.cast.north)
    issue_keys(copies=[passed_on], **facts | {"holder": friend})
    with pytest.raises(Refused, match="You approved the master key AA for Holder One"):
        transfer_keys(actor=estate.cast.officer, copies=[passed_on], to=estate.holder, signature=signed)
    grant = estate.hand_out(request.grants.get(), first)
    take_back(actor=estate.cast.officer, copy=first, cabinet=estate.cabinet)
    with pytest.raises(Refused, match="You approved the master key AA for Holder One"):
        issue_keys(copies=[first], **facts)
    issue_keys(copies=[first], **facts | {"actor": estate.cast.desk})
    assert grant.handed_out_by == estate.cast.desk
