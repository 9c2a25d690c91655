"""A copy that is lost opens a case or joins one, in the same transaction; a found one is told there."""

import pytest
from django.db import transaction

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.keys import services as keys
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Refused
from keyctl.losses.models import LossCase, LostCopy
from keyctl.losses.services import close_case
from keyctl.notices.models import Notice
from tests import factories
from tests.keyctl.losses.estate import Estate


def test_a_lost_copy_opens_a_case_that_knows_who_had_it(estate: Estate) -> None:
    holder = factories.make_holder(estate.cast.north, name="Ada Quill")
    copy = estate.held("AA1", holder)

    case = estate.lose(copy)

    lost = case.lost_copies.get()
    assert (case.number, case.site, case.state) == (1, estate.cast.north, "open")
    assert (lost.copy, lost.symbol, lost.holder, lost.last_with) == (
        copy,
        estate.key("AA1"),
        holder,
        "Ada Quill",
    )
    assert not case.has_master
    assert "opened Loss 1" in history_of(case)[0].sentence


def test_a_copy_out_of_a_cabinet_had_nobody(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    assert estate.lose(copy).lost_copies.get().holder is None


def test_a_second_copy_of_the_key_joins_the_case(estate: Estate) -> None:
    first, second = estate.copies("AA1", 2)
    case = estate.lose(first)
    assert estate.lose(second) == case
    assert case.lost_copies.count() == 2
    assert "is lost as well" in history_of(case)[0].sentence


def test_a_copy_of_another_key_opens_another_case(estate: Estate) -> None:
    (first,), (second,) = estate.copies("AA1"), estate.copies("AB1")
    assert estate.lose(first) != estate.lose(second)


def test_a_copy_lost_after_the_case_was_closed_opens_another_case(estate: Estate) -> None:
    first, second = estate.copies("AA1", 2)
    case = estate.lose(first)
    close_case(
        actor=estate.cast.officer, case=case, version=case.version, outcome="Melted", without_proof=True
    )
    assert estate.lose(second).number == case.number + 1


@pytest.mark.parametrize("name", ["A", "AA", "CTR"])
def test_a_master_or_control_key_is_told_as_one(estate: Estate, name: str) -> None:
    names = set(estate.system.symbols.values_list("symbol", flat=True))
    if name not in names:
        pytest.skip(f"no {name} in this system")
    (copy,) = estate.copies(name)
    assert estate.lose(copy).has_master


def test_a_report_that_is_rolled_back_leaves_no_case(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    with transaction.atomic():
        estate.lose(copy)
        transaction.set_rollback(True)
    assert not LossCase.objects.exists()
    assert KeyCopy.objects.get(pk=copy.pk).state == KeyCopy.State.IN_CABINET


def test_a_found_copy_is_told_in_its_case_with_a_caution(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    case = estate.lose(copy)
    estate.find(copy)
    case.refresh_from_db()
    assert case.state == "open"
    assert case.lost_copies.get().found_at is not None
    assert "may have been copied" in history_of(case)[0].sentence


def test_a_copy_lost_a_second_time_is_told_anew(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    case = estate.lose(copy)
    estate.find(copy)
    assert estate.lose(copy) == case
    assert LostCopy.objects.filter(copy=copy).count() == 2


def test_the_officers_hear_of_it_once_and_no_mail_names_key_or_serial(estate: Estate) -> None:
    estate.cast.officer.email = "officer@example.org"
    estate.cast.officer.save()
    estate.door("AA1", number="S-117")
    (copy,) = estate.copies("AA1")
    case = estate.lose(copy)
    notice = Notice.objects.get(to="officer@example.org")
    assert str(case.pk) in notice.body
    for word in (copy.serial, str(copy), "AA1", "S-117"):
        assert word not in notice.subject + notice.body


def test_history_names_no_cuts(estate: Estate) -> None:
    from keyctl.systems.services import bitting_of

    (copy,) = estate.copies("AA1")
    estate.lose(copy)
    told = "".join(event.sentence + str(event.detail) for event in Event.objects.all())
    assert bitting_of(estate.key("AA1")) not in told


def test_cuts_in_the_words_of_a_loss_or_a_find_are_refused(estate: Estate) -> None:
    estate.door("AA1")
    copy = estate.held("AA1")
    with pytest.raises(Refused, match="cuts of a key"):
        estate.lose(copy, note="It is cut 1234567.")
    assert KeyCopy.objects.get(pk=copy.pk).state == "held"
    estate.lose(copy)
    with pytest.raises(Refused, match="cuts of a key"):
        keys.take_found(actor=estate.cast.desk, copy=copy, cabinet=estate.cabinet, note="1-2-3-4-5-6-7")
