"""When a rekey is due: shares by door class, one copy of a master, and what counts as lost and as cut."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.keys import services as keys
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict
from keyctl.losses.models import CaseDoor, LossCase, LossRule
from keyctl.losses.services import take_up
from keyctl.losses.services.looking import look_now
from keyctl.losses.shares import Copies
from keyctl.losses.standing import keys_past_limit
from keyctl.losses.wording import reason
from tests.keyctl.losses.estate import Estate, row_of


def lose_some(estate: Estate, name: str, cut: int, lost: int) -> LossCase:
    copies = estate.copies(name, cut)
    return [estate.lose(copy) for copy in copies[:lost]][-1]


@pytest.mark.parametrize(
    ("door_class", "cut", "lost", "is_due"),
    [
        ("ordinary", 11, 1, False),
        ("ordinary", 10, 1, True),
        ("restricted", 21, 1, False),
        ("restricted", 20, 1, True),
        ("critical", 50, 1, True),
    ],
)
def test_the_starting_set(estate: Estate, door_class: str, cut: int, lost: int, is_due: bool) -> None:
    door = estate.door("AA1", door_class=door_class)
    row = row_of(lose_some(estate, "AA1", cut, lost), door)
    assert (row.is_due, row.lost, row.cut) == (is_due, lost, cut)


def test_a_rule_of_the_site_comes_before_the_starting_set(estate: Estate) -> None:
    LossRule.objects.create(
        site=estate.cast.north, door_class="ordinary", share=500, changed_by=estate.cast.officer
    )
    door = estate.door("AA1")
    case = lose_some(estate, "AA1", 4, 1)
    assert not row_of(case, door).is_due
    estate.lose(estate.copies("AA1")[0])
    assert row_of(case, door).share_lost == 400
    estate.lose(estate.copies("AA1")[0])
    assert row_of(case, door).is_due


def test_destroyed_and_found_copies_do_not_count(estate: Estate) -> None:
    door = estate.door("AA1")
    first, second, third, *_ = estate.copies("AA1", 12)
    case = estate.lose(first)
    assert row_of(case, door).cut == 12
    keys.destroy_copy(actor=estate.cast.desk, copy=second, reason="Bent")
    estate.lose(third)
    estate.find(first)
    row = row_of(case, door)
    assert (row.lost, row.cut) == (1, 11)


def test_every_change_key_of_a_door_counts(estate: Estate) -> None:
    """A cross-keyed door is due by the copies of all keys that turn it, not of one."""
    door = estate.door("AA1", "AB1")
    estate.copies("AB1", 15)
    row = row_of(lose_some(estate, "AA1", 5, 1), door)
    assert (row.lost, row.cut, row.is_due) == (1, 20, False)


@pytest.mark.parametrize("name", ["AA", "A", "CTR"])
def test_one_lost_copy_of_a_master_or_control_key_suffices(estate: Estate, name: str) -> None:
    door = estate.door("AA1")
    row = row_of(lose_some(estate, name, 40, 1), door)
    assert (row.is_due, row.why) == (True, CaseDoor.Why.MASTER)


def test_a_found_master_is_due_no_more_and_still_told(estate: Estate) -> None:
    door = estate.door("AA1")
    (copy,) = estate.copies("AA")
    case = estate.lose(copy)
    estate.find(copy)
    row = row_of(case, door)
    assert (row.is_due, row.why) == (False, CaseDoor.Why.FOUND)


def test_the_reason_is_a_sentence_with_the_figures(estate: Estate) -> None:
    door, critical = estate.door("AA1"), estate.door("AA1", door_class="critical")
    case = lose_some(estate, "AA1", 12, 1)
    assert reason(row_of(case, door)) == (
        "1 of 12 copies of its keys is lost (8.3 %); for ordinary doors a rekey is due at 10 %."
    )
    assert reason(row_of(case, critical)).endswith("for critical doors one lost copy suffices.")


def test_a_share_of_nothing_cut_is_nothing() -> None:
    assert Copies(0, 0).share == 0
    assert not Copies(0, 5).reaches(0)
    assert Copies(1, 3).share == 333


def test_keys_past_their_limit_stand_on_the_page_with_or_without_a_case(estate: Estate) -> None:
    estate.door("AA1")
    estate.door("AB1")
    lose_some(estate, "AA1", 2, 1)
    lose_some(estate, "AB1", 30, 1)
    lose_some(estate, "A", 3, 1)
    past, below = keys_past_limit(estate.cast.auditor)
    assert [(each.symbol.symbol, each.doors, each.doors_due) for each in past] == [("A", 2, 2), ("AA1", 1, 1)]
    assert below == 1
    assert past[0].case is not None
    LossCase.objects.get(lost_copies__symbol=estate.key("AA1")).lost_copies.all().delete()
    alone = keys_past_limit(estate.cast.auditor)[0][1]
    assert alone.case is None
    assert alone.without_case is not None


def test_a_case_is_opened_for_copies_that_were_lost_before_there_was_one(estate: Estate) -> None:
    first, second, kept = estate.copies("AA1", 3)
    KeyCopy.objects.filter(pk__in=[first.pk, second.pk]).update(state="lost", cabinet=None)
    case = take_up(actor=estate.cast.officer, copy=first)
    assert {row.copy for row in case.lost_copies.all()} == {first, second}
    for copy in (second, kept):
        with pytest.raises(Conflict, match="stands in a case already"):
            take_up(actor=estate.cast.officer, copy=copy)
    with pytest.raises(PermissionDenied):
        take_up(actor=estate.cast.auditor, copy=first)


def test_a_door_that_was_rekeyed_counts_no_copy_lost_before(estate: Estate) -> None:
    """The lost key does not turn it any more, so the share begins anew with the new key's copies."""
    door = estate.door("AA1")
    case = lose_some(estate, "AA1", 2, 1)
    door.turns.all().delete()
    door.turns.create(symbol=estate.key("AB1"), operates=True, withdraws=False)
    estate.copies("AB1", 5)
    later = estate.lose(estate.copies("AB1")[0])
    look_now(case)
    assert row_of(case, door).state == "cleared"
    row = row_of(later, door)
    assert (row.lost, row.cut) == (1, 6)
