"""Taking back by scan: keys of several holders at once, found ones among them, and transfers at the desk."""

from datetime import timedelta

from django.utils import timezone

from keyctl.keys.models import Custody, Deposit, DeskSettings, Handover
from keyctl.notices.models import Notice
from tests import factories
from tests.keyctl.desk.counter import Counter, act_of, words_of
from tests.keyctl.keys.keyroom import KeyRoom


def test_keys_of_several_holders_and_a_found_one_come_back_in_one_go(back: Counter, room: KeyRoom) -> None:
    ann = factories.make_holder(room.site, name="Ann Bell", email="ann@example.org")
    bob = factories.make_holder(room.site, name="Bob Cole", email="bob@example.org")
    first, second = room.give(room.in_stock(), ann), room.give(room.in_stock(), bob)
    lost = room.lost()
    for copy in (first, second, lost):
        back.scan(copy)
    assert "taken in as found" in words_of(back.page())
    back.finish(cabinet=room.cabinet.pk, brought_by="A porter")
    for copy in (first, second, lost):
        copy.refresh_from_db()
        assert (copy.state, copy.cabinet) == ("in-cabinet", room.cabinet)
    act = Handover.objects.get(way="back")
    assert act.holder is None
    assert set(act.lines_back.values_list("brought_by", flat=True)) == {"A porter"}
    mails = {notice.to: notice for notice in Notice.objects.filter(kind="desk.returned")}
    assert set(mails) == {"ann@example.org", "bob@example.org"}
    assert str(first) in mails["ann@example.org"].body
    assert str(second) not in mails["ann@example.org"].body
    # The paper names both holders: it goes to neither.
    assert {notice.attachment_kind for notice in mails.values()} == {""}


def test_only_found_keys_need_no_act(back: Counter, room: KeyRoom) -> None:
    lost = room.lost()
    back.scan(lost)
    assert back.finish(cabinet=room.cabinet.pk).status_code == 302
    lost.refresh_from_db()
    assert lost.state == "in-cabinet"
    assert not Handover.objects.filter(way="back").exists()


def test_the_cabinet_is_remembered_for_the_next_keys(back: Counter, room: KeyRoom) -> None:
    factories.make_cabinet(room.site)
    back.scan(room.held())
    assert "No cabinet is chosen" in words_of(back.finish())
    back.finish(cabinet=room.cabinet.pk)
    assert f'value="{room.cabinet.pk}" selected' in words_of(back.page())


def test_the_condition_is_written_down_and_a_broken_key_stays_in(back: Counter, room: KeyRoom) -> None:
    bent, broken = room.held(), room.held()
    for copy in (bent, broken):
        back.scan(copy)
    for copy, condition in ((bent, "bent"), (broken, "broken")):
        line = back.tray.lines.get(copy=copy)
        back.client.post(f"/desk/lines/{line.pk}/condition/", {"condition": condition})
    back.finish(cabinet=room.cabinet.pk)
    lines = {line.copy: line.condition_back for line in Custody.objects.select_related("copy")}
    assert lines[bent] == "Bent"
    broken.refresh_from_db()
    assert broken.is_broken


def test_what_is_said_of_a_key_with_the_signature_counts_before_what_was_kept(
    back: Counter, room: KeyRoom
) -> None:
    """On a slow network the one is sent before the other has arrived."""
    bent, other = room.held(), room.held()
    for copy in (bent, other):
        back.scan(copy)
    line, last = (back.tray.lines.get(copy=copy) for copy in (bent, other))
    facts = {f"condition-{line.pk}": "bent", f"condition-{last.pk}": "shiny", "condition-x": "bent"}
    back.finish(cabinet=room.cabinet.pk, **facts)
    lines = {line.copy: line.condition_back for line in Custody.objects.select_related("copy")}
    assert (lines[bent], lines[other]) == ("Bent", "")


def test_an_overdue_key_and_a_deposit_are_shown(back: Counter, room: KeyRoom) -> None:
    DeskSettings.objects.update_or_create(site=room.site, defaults={"currency": "EUR"})
    first, second = room.held(), room.held()
    Custody.objects.filter(copy=first).update(due_at=timezone.now() - timedelta(days=1))
    act = act_of(first)
    Deposit.objects.create(handover=act, amount=2050, currency="EUR")
    Custody.objects.filter(copy=second).update(out_act=act)
    page = words_of(back.scan_piece(first))
    assert "Was due on" in page
    assert "20.50" not in page, "the other key of the act is still out"
    assert "Deposit to give back" in words_of(back.scan_piece(second))


def test_what_is_not_out_is_refused(back: Counter, room: KeyRoom) -> None:
    copy = room.in_stock()
    assert f"it belongs into {room.cabinet}" in words_of(back.scan(copy))
    assert "Keys come back without a name" in words_of(back.scan(room.holder.name))


def test_a_cabinet_of_another_site_cannot_be_chosen(back: Counter, room: KeyRoom) -> None:
    back.scan(room.held())
    elsewhere = factories.make_cabinet(room.cast.south)
    assert back.finish(cabinet=elsewhere.pk).status_code == 422


def test_a_return_may_be_signed(back: Counter, room: KeyRoom) -> None:
    back.scan(room.held())
    back.finish(cabinet=room.cabinet.pk, signed_as="Ann Bell")
    assert Handover.objects.get(way="back").signed_as == "Ann Bell"


def test_keys_pass_from_one_to_another_at_the_desk(transfer: Counter, room: KeyRoom) -> None:
    giver = factories.make_holder(room.site, name="Giver", email="giver@example.org")
    taker = factories.make_holder(room.site, name="Taker", email="taker@example.org")
    first, second = room.give(room.in_stock(), giver), room.give(room.in_stock(), giver)
    for text in ("Taker", first, second):
        transfer.scan(text)
    assert "with nobody" in words_of(transfer.scan(room.in_stock()))
    transfer.finish(signed_as="Taker")
    for copy in (first, second):
        copy.refresh_from_db()
        assert copy.holder == taker
    assert sorted(Notice.objects.values_list("to", "kind")) == [
        ("giver@example.org", "desk.returned"),
        ("taker@example.org", "desk.receipt"),
    ]


def test_what_somebody_has_is_not_passed_to_themselves(transfer: Counter, room: KeyRoom) -> None:
    copy = room.held()
    transfer.scan(room.holder.name)
    assert "already" in words_of(transfer.scan(copy))
