"""Beginning, scanning, witnessing and closing a count: what it does, what it refuses, and its events."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.counts import services
from keyctl.counts.models import Count, CountCase, CountExpected, CountScan
from keyctl.counts.services import scanning
from keyctl.keys import services as keys
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict, Refused
from tests import factories
from tests.keyctl.counts.countroom import CountRoom


def test_a_count_stands_against_what_was_there_when_it_began(room: CountRoom) -> None:
    here = room.stock(2)
    room.stock(1, cabinet=room.other)
    count = room.begin()
    assert {row.copy for row in CountExpected.objects.filter(count=count)} == set(here)
    assert (count.state, count.counter, count.number) == ("running", room.desk, 1)
    assert history_of(count)[0].sentence == f"began count 1 of {room.cabinet}"


@pytest.mark.parametrize("person", ["manager", "officer", "auditor", "requester", "administrator"])
def test_only_the_desk_and_locksmiths_count(room: CountRoom, person: str) -> None:
    with pytest.raises(PermissionDenied):
        room.begin(actor=room.cast.everybody[person])


def test_a_stranger_counts_nothing(room: CountRoom) -> None:
    with pytest.raises(Http404):
        room.begin(actor=room.cast.stranger)


def test_the_rule_may_leave_counting_to_locksmiths(room: CountRoom) -> None:
    room.rule(counters="locksmith")
    with pytest.raises(Refused, match="The rule says who counts here: a locksmith"):
        room.begin()
    assert room.begin(actor=room.cast.locksmith).counter == room.cast.locksmith


def test_one_cabinet_is_not_counted_twice_at_once(room: CountRoom) -> None:
    room.begin()
    with pytest.raises(Refused, match=r"is counting Cabinet .* already"):
        room.begin(actor=room.cast.locksmith)


def test_what_is_due_already_is_what_begins(room: CountRoom) -> None:
    facts: dict[str, Any] = {"number": 7, "scope": "cabinet", "cabinet": room.cabinet, "reason": "rule"}
    due = Count.objects.create(site=room.site, due_on="2031-01-01", **facts)
    assert room.begin().pk == due.pk


def test_a_repeated_scan_counts_once(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    count = room.begin()
    first = services.scan_keys(actor=room.desk, count=count, text=copy.serial)
    again = services.scan_keys(actor=room.desk, count=count, text=f" {copy} ")
    assert (first.added, again.added, again.repeated) == ([copy.serial], [], [copy.serial])
    assert CountScan.objects.filter(count=count).count() == 1


def test_a_stamp_serves_as_well_as_the_serial(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    KeyCopy.objects.filter(pk=copy.pk).update(stamp="K-17")
    count = room.begin()
    room.scan(count, "k-17")
    assert room.close(count).difference_count == 0


def test_the_last_scan_is_taken_back_and_stays_written(room: CountRoom) -> None:
    first, second = room.stock(2)
    count = room.begin()
    room.scan(count, first, second)
    undone = services.undo_scan(actor=room.desk, count=count)
    assert undone.undone_at is not None
    room.close(count)
    assert room.found(count) == {("missing", undone.serial)}


def test_nothing_scanned_is_nothing_to_take_back(room: CountRoom) -> None:
    with pytest.raises(Refused, match="Nothing is scanned yet"):
        services.undo_scan(actor=room.desk, count=room.begin())


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("  ", "Nothing was read"), ("A" * 41, "at most 40 signs"), ("A\n" * 201, "at most 200 serials")],
)
def test_a_bad_reading_is_refused_in_words(room: CountRoom, text: str, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        services.scan_keys(actor=room.desk, count=room.begin(), text=text)


def test_every_kind_of_difference_becomes_a_case(room: CountRoom) -> None:
    here, missing, lost, destroyed = room.stock(4)
    (elsewhere,) = room.stock(1, cabinet=room.other)
    keys.report_lost(actor=room.desk, copy=lost)
    keys.destroy_copy(actor=room.desk, copy=destroyed, reason="Worn")
    count = room.begin()
    room.scan(count, here, elsewhere, lost, destroyed, "WXYZ9999")
    room.close(count)
    assert room.found(count) == {
        ("missing", missing.serial),
        ("misplaced", elsewhere.serial),
        ("lost-found", lost.serial),
        ("destroyed-found", destroyed.serial),
        ("unknown", "WXZ9999"),
    }


def test_a_key_of_another_site_is_unknown_here(room: CountRoom) -> None:
    foreign = factories.make_copy(room.change, factories.make_cabinet(room.cast.south))
    count = room.begin()
    room.scan(count, foreign)
    room.close(count)
    case = CountCase.objects.get(count=count)
    assert (case.kind, case.copy) == ("unknown", None)


def test_a_count_that_is_closed_takes_no_scan_and_closes_no_more(room: CountRoom) -> None:
    count = room.begin()
    room.close(count)
    with pytest.raises(Conflict, match="Count 1 is counted by now"):
        room.scan(count, "WXYZ9999")
    with pytest.raises(Conflict, match="Count 1 is counted by now"):
        room.close(count)


def test_a_count_given_up_says_why(room: CountRoom) -> None:
    count = room.begin()
    with pytest.raises(Refused, match="Say why"):
        services.cancel_count(actor=room.desk, count=count, note=" ")
    given_up = services.cancel_count(actor=room.desk, count=count, note="Fire alarm")
    assert (given_up.state, given_up.note) == ("cancelled", "Fire alarm")


def test_nobody_counts_their_own_cabinet_alone(room: CountRoom) -> None:
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.desk)
    with pytest.raises(Refused, match=f"You keep {room.cabinet} yourself"):
        room.begin()
    count = room.begin(witness=room.cast.auditor)
    assert count.needs_witness


def test_nobody_counts_keys_alone_that_they_hold(room: CountRoom) -> None:
    mine = factories.make_holder(room.site, user=room.cast.locksmith)
    room.give(room.stock(1, room.master)[0], mine)
    with pytest.raises(Refused, match="in your own keeping"):
        room.begin(scope="keys", subject="masters", actor=room.cast.locksmith)
    with pytest.raises(Refused, match="in your own keeping"):
        room.begin(scope="holder", holder=mine, actor=room.cast.locksmith)


def test_a_witness_is_somebody_else_of_the_staff(room: CountRoom) -> None:
    for witness, sentence in [
        (room.desk, "Nobody witnesses their own count"),
        (room.cast.requester, "is not of the staff"),
        (room.cast.stranger, "is not of the staff"),
    ]:
        with pytest.raises(Refused, match=sentence):
            room.begin(witness=witness)


def test_a_rule_that_asks_for_a_witness_gets_one(room: CountRoom) -> None:
    room.rule(needs_witness=True)
    with pytest.raises(Refused, match="The rule asks for a witness"):
        room.begin()


def test_a_witnessed_count_closes_after_the_witness_confirmed(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    count = room.begin(witness=room.cast.auditor)
    room.scan(count, copy)
    with pytest.raises(Refused, match="has not confirmed the count yet"):
        room.close(count)
    with pytest.raises(Refused, match="is to witness"):
        services.confirm_witness(actor=room.cast.officer, count=count)
    services.confirm_witness(actor=room.cast.auditor, count=count)
    with pytest.raises(Refused, match="has confirmed this count already"):
        room.scan(count, "WXYZ9999")
    closed = room.close(count)
    assert (closed.witness, closed.witnessed_at is not None) == (room.cast.auditor, True)


def test_a_witness_from_the_desk_does_not_close_what_they_watched(room: CountRoom) -> None:
    count = room.begin(actor=room.cast.locksmith, witness=room.desk)
    services.confirm_witness(actor=room.desk, count=count)
    with pytest.raises(Refused, match="The witness does not close"):
        room.close(count)


def test_keys_by_serial_may_be_shown_anywhere(room: CountRoom) -> None:
    stored, held, missing = room.stock(3, room.master)
    room.stock(2)
    room.give(held)
    count = room.begin(scope="keys", subject="masters")
    assert count.expected.count() == 3
    room.scan(count, stored, held)
    room.close(count)
    assert room.found(count) == {("missing", missing.serial)}


def test_a_sample_is_drawn_from_the_keys_that_were_chosen(room: CountRoom) -> None:
    copies = room.stock(30)
    count = room.begin(scope="sample", subject="all", sample_size=5)
    drawn = {row.copy for row in CountExpected.objects.filter(count=count)}
    assert len(drawn) == 5
    assert drawn < set(copies)


def test_a_sample_of_nothing_is_refused(room: CountRoom) -> None:
    with pytest.raises(Refused, match="there is nothing to draw from"):
        room.begin(scope="sample", subject="masters", sample_size=5)


def test_critical_keys_are_those_that_turn_a_core_in_a_critical_door(room: CountRoom) -> None:
    cast = room.cast
    system = factories.make_system(room.site, actor=cast.administrator)
    door = factories.make_door(room.site, door_class="critical")
    core = factories.make_core(actor=cast.locksmith, site=room.site, system=system)
    factories.install(core, factories.make_housing(room.site, door=door))
    turning = {turn.symbol for turn in core.turns.filter(operates=True)}
    copies = {symbol: room.stock(1, symbol)[0] for symbol in system.symbols.exclude(kind="control")}
    count = room.begin(scope="keys", subject="critical")
    expected = {row.copy for row in CountExpected.objects.filter(count=count)}
    assert expected == {copies[symbol] for symbol in turning}
    assert len(turning) > 1


def test_a_holder_is_counted_by_what_they_show_and_what_they_declare(room: CountRoom) -> None:
    holder = factories.make_holder(room.site, user=room.cast.requester)
    shown, declared, silent = (room.give(copy, holder) for copy in room.stock(3))
    count = room.begin(scope="holder", holder=holder)
    room.scan(count, shown)
    services.declare_keys(actor=room.cast.requester, count=count, copies=[shown, declared])
    closed = room.close(count)
    assert (closed.sighted_count, closed.declared_count) == (1, 1)
    cases = CountCase.objects.filter(count=count).values_list("serial", "kind", "is_declared")
    assert set(cases) == {(declared.serial, "missing", True), (silent.serial, "missing", False)}


def test_where_the_rule_says_so_a_holders_word_counts(room: CountRoom) -> None:
    room.rule("holders", accepts_declared=True)
    holder = factories.make_holder(room.site, user=room.cast.requester)
    copy = room.give(room.stock(1)[0], holder)
    count = room.begin(scope="holder", holder=holder)
    services.declare_keys(actor=room.cast.requester, count=count, copies=[copy])
    closed = room.close(count)
    assert (closed.sighted_count, closed.declared_count, closed.difference_count) == (0, 1, 0)


def test_nobody_declares_the_keys_of_somebody_else(room: CountRoom) -> None:
    copy = room.give(room.stock(1)[0])
    count = room.begin(scope="holder", holder=room.holder)
    with pytest.raises(Refused, match="can say so of their own keys"):
        services.declare_keys(actor=room.cast.requester, count=count, copies=[copy])


def test_a_key_reported_broken_while_counting_is_still_sought(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    count = room.begin()
    keys.report_broken(actor=room.desk, copy=copy, note="Bent")
    room.close(count)
    assert room.found(count) == {("missing", copy.serial)}


def test_the_keys_of_a_list_are_sought_by_their_serials(room: CountRoom) -> None:
    shown, held, other = room.stock(3)
    room.give(held)
    listed = f"{shown}\n{held.serial.lower()}, {shown.serial}"
    count = room.begin(scope="keys", serials=listed)
    assert {row.copy for row in CountExpected.objects.filter(count=count)} == {shown, held}
    room.scan(count, shown, other)
    room.close(count)
    assert room.found(count) == {("missing", held.serial)}


def test_a_list_names_what_cannot_be_sought(room: CountRoom) -> None:
    (lost,) = room.stock(1)
    keys.report_lost(actor=room.desk, copy=lost)
    for listed, sentence in [
        ("WXYZ9999", "has no key with the serial WXYZ9999"),
        (lost.serial, "Take it off the list"),
        ("", "Choose which keys are counted"),
    ]:
        with pytest.raises(Refused, match=sentence):
            room.begin(scope="keys", serials=listed)


def test_a_custodian_scans_nothing_into_a_count_that_nobody_watches(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.desk)
    for scope in ({"scope": "cabinet", "cabinet": room.cabinet}, {"scope": "keys", "subject": "all"}):
        count = room.begin(actor=room.cast.locksmith, **scope)
        with pytest.raises(Refused, match="in your own keeping and nobody watches"):
            room.scan(count, copy)
        services.scan_keys(actor=room.cast.locksmith, count=count, text=copy.serial)
        with pytest.raises(Refused, match="in your own keeping and nobody watches"):
            services.undo_scan(actor=room.desk, count=count)


def test_a_witness_watches_and_does_not_scan(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    count = room.begin(actor=room.cast.locksmith, witness=room.desk)
    with pytest.raises(Refused, match="You watch this count"):
        room.scan(count, copy)


def test_a_stuck_scanner_is_stopped(room: CountRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scanning, "MOST_BEYOND", 3)
    (copy,) = room.stock(1)
    count = room.begin()
    room.scan(count, copy, "WXYZ9991", "WXYZ9992", "WXYZ9993", "WXYZ9994")
    with pytest.raises(Refused, match="far more scans than keys"):
        room.scan(count, "WXYZ9995")
    assert CountScan.objects.filter(count=count).count() == 5
