"""From the last decision to keys that lie ready, from stock or cut; and back into stock if nobody comes."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.approvals import services
from keyctl.approvals.models import Grant, KeyRequest, RequestSettings
from keyctl.approvals.services.ending import tidy
from keyctl.audit.selectors import history_of
from keyctl.keys import services as keys
from keyctl.keys.models import Custody, Handover, KeyCopy
from keyctl.keys.signing import Signature
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day
from keyctl.notices.models import Notice
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, statuses


def approved(estate: Estate, *symbols: KeySymbol, **facts: Any) -> KeyRequest:
    """A request for a door of each of the keys, approved."""
    return estate.approve(estate.ask(*(estate.door(symbol) for symbol in symbols), **facts))


def state(request: KeyRequest) -> str:
    return KeyRequest.objects.get(pk=request.pk).state


def cut(estate: Estate, request: KeyRequest) -> list[KeyCopy]:
    """Every line of the request's order comes from the machine."""
    lines = OrderLine.objects.filter(grants__request=request, state=OrderLine.State.OPEN).order_by("ordinal")
    done = [orders.cut_line(actor=estate.cast.locksmith, line=line) for line in lines]
    return [copy for line in done for copy in line.copies.all()]


def take(estate: Estate, request: KeyRequest, *copies: KeyCopy, **facts: object) -> Handover:
    facts.setdefault("actor", estate.cast.desk)
    waiting = Grant.objects.filter(request=request).select_related("reserved_copy")
    chosen = copies or tuple(grant.reserved_copy for grant in waiting if grant.reserved_copy)
    return services.collect(request=request, copies=chosen, signature=Signature("Holder One"), **facts)  # type: ignore[arg-type]


def mails(request: KeyRequest) -> list[str]:
    rows = Notice.objects.filter(subjects__subject_id=request.pk).order_by("written_at")
    return [notice.kind for notice in rows if notice.kind.startswith("requests.")]


def test_a_copy_in_stock_is_set_aside_at_once(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    assert request.grants.get().reserved_copy == copy
    assert (state(request), WorkOrder.objects.count()) == ("ready", 0)
    assert mails(request).count("requests.ready") == 2


def test_of_several_copies_in_stock_the_first_by_its_serial_is_set_aside(estate: Estate) -> None:
    """Not by identifier: those made in one millisecond stand in no order."""
    key = estate.key("AA1")
    for serial in ("HHHH2222HHHH", "BBBB2222BBBB", "ZZZZ2222ZZZZ"):
        KeyCopy.objects.filter(pk=estate.stock(key).pk).update(serial=serial)
    taken = [approved(estate, key).grants.get().reserved_copy for _ in range(3)]
    assert [copy.serial for copy in taken if copy] == ["BBBB2222BBBB", "HHHH2222HHHH", "ZZZZ2222ZZZZ"]


def test_without_a_copy_in_stock_one_order_cuts_all_that_lacks(estate: Estate) -> None:
    stocked, first, second = estate.key("AA1"), estate.key("BB1"), estate.key("CC1")
    copy = estate.stock(stocked)
    request = approved(estate, stocked, first, second)
    order = WorkOrder.objects.get()
    assert {line.symbol for line in order.lines.all()} == {first, second}
    assert [line.count for line in order.lines.all()] == [1, 1]
    grants = {grant.symbol: grant for grant in request.grants.all()}
    assert (grants[stocked].reserved_copy, grants[stocked].order_line) == (copy, None)
    assert all(grants[symbol].order_line is not None for symbol in (first, second))
    assert state(request) == "approved"


def test_what_is_cut_is_set_aside_by_itself_and_the_last_makes_it_ready(estate: Estate) -> None:
    first, second = estate.key("BB1"), estate.key("CC1")
    request = approved(estate, first, second)
    lines = list(OrderLine.objects.order_by("ordinal"))
    orders.cut_line(actor=estate.cast.locksmith, line=lines[0])
    assert (state(request), mails(request).count("requests.ready")) == ("approved", 0)
    orders.cut_line(actor=estate.cast.locksmith, line=lines[1])
    assert state(request) == "ready"
    reserved = {grant.reserved_copy for grant in request.grants.all()}
    assert reserved == {copy for line in lines for copy in line.copies.all()}
    assert mails(request).count("requests.ready") == 2


@pytest.mark.parametrize("fault", ["broken", "elsewhere", "out", "promised"])
def test_only_a_sound_copy_in_a_cabinet_of_the_site_is_set_aside(estate: Estate, fault: str) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    if fault == "broken":
        KeyCopy.objects.filter(pk=copy.pk).update(condition="broken")
    elif fault == "elsewhere":
        cabinet = factories.make_cabinet(estate.cast.south)
        KeyCopy.objects.filter(pk=copy.pk).update(site=estate.cast.south, cabinet=cabinet)
    elif fault == "out":
        keys.issue_keys(
            actor=estate.cast.desk, holder=estate.holder, copies=[copy], signature=Signature("H One")
        )
    else:
        assert approved(estate, key).grants.get().reserved_copy == copy
    assert approved(estate, key).grants.get().reserved_copy is None


def test_a_copy_set_aside_is_given_to_nobody_else(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    other = factories.make_holder(estate.cast.north, name="Somebody Else")
    facts = {"actor": estate.cast.desk, "copies": [copy], "signature": Signature("Somebody Else")}
    with pytest.raises(Refused, match=f"Copy {copy} is set aside for Holder One, on a request"):
        keys.issue_keys(holder=other, **facts)  # type: ignore[arg-type]
    second = approved(estate, key)
    with pytest.raises(Refused, match="is set aside for Holder One"):
        take(estate, second, copy)
    take(estate, request)
    assert state(request) == "handed-out"


def test_the_holder_signs_and_the_keys_are_due_when_the_time_ends(estate: Estate) -> None:
    last_day = timezone.localdate() + timedelta(days=30)
    first, second = estate.key("AA1"), estate.key("BB1")
    copies = {estate.stock(first), estate.stock(second)}
    request = approved(estate, first, second, needed_until=last_day)
    act = take(estate, request)
    lines = Custody.objects.filter(out_act=act)
    assert {line.copy for line in lines} == copies
    assert {(line.holder, line.due_at) for line in lines} == {(estate.holder, end_of_day(last_day))}
    assert (act.signed_as, state(request)) == ("Holder One", "handed-out")
    assert not Grant.objects.filter(reserved_copy__isnull=False).exists()
    assert history_of(request)[0].sentence == "handed out 2 keys on the request of Requester"
    assert mails(request).count("requests.collected") == 1


def test_the_desk_may_want_them_back_sooner_and_not_later(estate: Estate) -> None:
    last_day = timezone.localdate() + timedelta(days=30)
    for hours, is_sooner in ((5, True), (24 * 60, False)):
        key = estate.key(f"A{hours}")
        estate.stock(key)
        moment = timezone.now() + timedelta(hours=hours)
        act = take(estate, approved(estate, key, needed_until=last_day), due_at=moment)
        due_at = Custody.objects.get(out_act=act).due_at
        assert due_at == (moment if is_sooner else end_of_day(last_day))


def test_some_keys_may_be_collected_before_the_others(estate: Estate) -> None:
    stocked, lacking = estate.key("AA1"), estate.key("BB1")
    copy = estate.stock(stocked)
    request = approved(estate, stocked, lacking)
    take(estate, request, copy)
    assert state(request) == "approved"
    cut(estate, request)
    assert state(request) == "ready"
    take(estate, request, *KeyCopy.objects.filter(symbol=lacking))
    assert state(request) == "handed-out"


def test_another_copy_of_the_key_frees_the_one_set_aside_and_what_is_being_cut(estate: Estate) -> None:
    key = estate.key("AA1")
    request = approved(estate, key)
    take(estate, request, estate.stock(key))
    assert (state(request), WorkOrder.objects.get().state) == ("handed-out", "cancelled")


def test_keys_are_not_given_before_they_are_needed(estate: Estate) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = approved(estate, key, starts_on=timezone.localdate() + timedelta(days=3))
    assert state(request) == "ready"
    with pytest.raises(Refused, match=r"These keys are given from .* on, not before"):
        take(estate, request)


def test_who_decided_any_step_does_not_give_the_master_out(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    copy = estate.stock(master)
    request = approved(estate, master)
    deciders = set(request.steps.values_list("decided_by", flat=True))
    assert deciders == {estate.cast.manager.pk, estate.cast.officer.pk}
    for person in (estate.cast.manager, estate.cast.officer):
        Membership.objects.create(user=person, site=estate.cast.north, role=Role.KEY_DESK)
        with pytest.raises(Refused, match="You approved this master key"):
            take(estate, request, copy, actor=person)
    take(estate, request, copy)
    assert set(request.steps.values_list("master_out_by", flat=True)) == {estate.cast.desk.pk}


def test_a_copy_of_another_key_or_the_same_key_twice_is_refused(estate: Estate) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = approved(estate, key)
    with pytest.raises(Refused, match="is not what this request gives"):
        take(estate, request, estate.stock(estate.key("ZZ1")))
    with pytest.raises(Refused, match="or it is there twice"):
        take(estate, request, estate.stock(key), estate.stock(key))
    assert state(request) == "ready"


def test_withdrawing_frees_the_copy_and_drops_the_order(estate: Estate) -> None:
    stocked, lacking = estate.key("AA1"), estate.key("BB1")
    copy = estate.stock(stocked)
    request = approved(estate, stocked, lacking)
    services.withdraw_request(actor=estate.cast.requester, request=request)
    assert WorkOrder.objects.get().state == "cancelled"
    assert approved(estate, stocked).grants.get().reserved_copy == copy
    with pytest.raises(Conflict, match="withdrew this request"):
        take(estate, request, copy)


def test_a_copy_that_was_cut_after_the_end_stays_in_stock(estate: Estate) -> None:
    request = approved(estate, estate.key("AA1"))
    line = OrderLine.objects.get()
    KeyRequest.objects.filter(pk=request.pk).update(state="withdrawn")
    orders.cut_line(actor=estate.cast.locksmith, line=line)
    assert request.grants.get().reserved_copy is None
    assert line.copies.get().state == "in-cabinet"


def test_a_holder_who_leaves_frees_everything(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    keys.deactivate_holder(actor=estate.cast.desk, holder=estate.holder)
    assert state(request) == "withdrawn"
    assert not Grant.objects.filter(reserved_copy=copy).exists()


def ready_since(request: KeyRequest, days: float) -> None:
    KeyRequest.objects.filter(pk=request.pk).update(ready_at=timezone.now() - timedelta(days=days))


def test_what_nobody_collects_is_told_and_freed(estate: Estate) -> None:
    RequestSettings.objects.create(site=estate.cast.north, collect_days=10)
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    ready_since(request, 4)
    assert tidy(timezone.now()).startswith("Reminded: 0, not collected in time: 0")
    ready_since(request, 6)
    assert tidy(timezone.now()).startswith("Reminded: 1, not collected in time: 0")
    assert tidy(timezone.now()).startswith("Reminded: 0, not collected in time: 0")
    ready_since(request, 10.1)
    assert "not collected in time: 1" in tidy(timezone.now())
    assert (state(request), mails(request).count("requests.lapsed")) == ("lapsed", 2)
    assert history_of(request)[0].actor_name == "keyctl"
    with pytest.raises(Refused, match="not collected in time"):
        take(estate, request, copy)
    assert approved(estate, key).grants.get().reserved_copy == copy


def test_keys_wanted_later_lie_ready_from_that_day_on(estate: Estate) -> None:
    key = estate.key("AA1")
    estate.stock(key)
    request = approved(estate, key, starts_on=timezone.localdate() + timedelta(days=20))
    ready_since(request, 30)
    tidy(timezone.now())
    assert state(request) == "ready"
    KeyRequest.objects.filter(pk=request.pk).update(starts_on=timezone.localdate() - timedelta(days=15))
    tidy(timezone.now())
    assert state(request) == "lapsed"


def test_what_was_needed_until_yesterday_lapses_even_if_it_was_never_ready(estate: Estate) -> None:
    request = approved(estate, estate.key("AA1"), needed_until=timezone.localdate())
    KeyRequest.objects.filter(pk=request.pk).update(needed_until=timezone.localdate() - timedelta(days=1))
    tidy(timezone.now())
    assert (state(request), WorkOrder.objects.get().state) == ("lapsed", "cancelled")


def test_a_lapsed_request_lives_on_when_the_desk_looks_again(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    ready_since(request, 99)
    tidy(timezone.now())
    services.look_again(actor=estate.cast.desk, request=request)
    assert (state(request), request.grants.get().reserved_copy) == ("ready", copy)
    take(estate, request, copy)


def test_a_copy_lost_from_the_cabinet_is_replaced(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    request = approved(estate, key)
    keys.report_lost(actor=estate.cast.desk, copy=copy, note="Not on its hook")
    with pytest.raises(Refused, match="is reported lost"):
        take(estate, request, copy)
    assert "looked for another copy: 1" in tidy(timezone.now())
    assert (state(request), WorkOrder.objects.count()) == ("approved", 1)
    (fresh,) = cut(estate, request)
    assert (state(request), request.grants.get().reserved_copy) == ("ready", fresh)


def test_an_order_cancelled_at_the_bench_is_opened_again_by_the_desk(estate: Estate) -> None:
    request = approved(estate, estate.key("AA1"))
    orders.cancel_order(actor=estate.cast.locksmith, order=WorkOrder.objects.get())
    services.look_again(actor=estate.cast.desk, request=request)
    assert WorkOrder.objects.filter(state="open").count() == 1
    services.look_again(actor=estate.cast.desk, request=request)
    assert WorkOrder.objects.count() == 2
    cut(estate, request)
    assert state(request) == "ready"


def test_a_retired_key_and_a_site_without_cabinet_keep_nobody_from_deciding(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.choose(estate.ask(estate.door(key)))
    assert state(request) == "approved"
    orders.cancel_order(actor=estate.cast.locksmith, order=WorkOrder.objects.get())
    KeySymbol.objects.filter(pk=key.pk).update(retired_at=timezone.now())
    services.look_again(actor=estate.cast.desk, request=request)
    assert WorkOrder.objects.filter(state="open").count() == 0


def test_a_retired_key_in_stock_is_set_aside_for_nobody(estate: Estate) -> None:
    key, other = estate.key("AA1"), estate.key("AA2")
    copies = [estate.stock(key), estate.stock(other)]
    request = approved(estate, key, other)
    assert state(request) == "ready"
    KeySymbol.objects.filter(pk=key.pk).update(retired_at=timezone.now())
    assert "looked for another copy: 1" in tidy(timezone.now())
    kept = dict(request.grants.values_list("symbol", "reserved_copy"))
    assert kept == {key.pk: None, other.pk: copies[1].pk}
    assert state(request) == "approved"
    told = page(Client(), estate.cast.desk, "detail", request.pk)
    assert "retired after a loss: given to nobody any more" in told


def test_who_may_look_again(estate: Estate) -> None:
    request = approved(estate, estate.key("AA1"))
    allowed = {"locksmith": 302, "desk": 302, "stranger": 404}
    people = dict.fromkeys(estate.cast.everybody, 403) | allowed
    assert statuses(estate.cast, "look-again", request.pk, "post") == people


def test_an_asked_or_refused_request_has_nothing_to_make_ready(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    with pytest.raises(Refused, match="Nothing is made ready for it"):
        services.look_again(actor=estate.cast.desk, request=request)
    with pytest.raises(Refused, match="not approved"):
        take(estate, request, estate.stock(estate.key("AA9")))
