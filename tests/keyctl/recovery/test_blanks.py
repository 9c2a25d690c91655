import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.db.models import Sum

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.recovery import services
from keyctl.recovery.models import ControlBlank, ControlBlankMove
from tests.keyctl.recovery.loss import Loss


def receive(full: Loss, blank: ControlBlank, number: int) -> ControlBlank:
    return services.receive_blanks(actor=full.smith, blank=blank, version=blank.version, number=number)


def scrap(full: Loss, blank: ControlBlank, number: int, note: str = "Bent; cut through.") -> ControlBlank:
    return services.scrap_blanks(
        actor=full.smith, blank=blank, version=blank.version, number=number, note=note
    )


def count(full: Loss, blank: ControlBlank, number: int, note: str = "") -> ControlBlank:
    return services.count_blanks(
        actor=full.smith, blank=blank, version=blank.version, number=number, note=note
    )


def test_received_blanks_are_in_the_register(full: Loss) -> None:
    assert receive(full, full.blanks(2), 5).count == 7


def test_the_lines_of_the_register_add_up_to_its_count(full: Loss) -> None:
    blank = full.blanks(6)
    full.cut(full.approve(full.chosen()))
    blank.refresh_from_db()
    blank = scrap(full, blank, 2)
    blank = count(full, blank, 2, note="One more was missing.")
    blank = receive(full, blank, 10)
    total = blank.moves.aggregate(total=Sum("change"))["total"]
    assert blank.count == total == 12


def test_every_line_says_who_when_and_what_is_left(full: Loss) -> None:
    move = full.blanks(4).moves.get()
    assert (move.by, move.left, move.signed) == (full.smith, 4, "+4")
    assert move.at is not None


def test_nothing_in_the_register_is_changed_or_taken_out(full: Loss) -> None:
    move = full.blanks(4).moves.get()
    with pytest.raises(TypeError):
        move.save()
    with pytest.raises(TypeError):
        move.delete()
    with pytest.raises(TypeError):
        ControlBlankMove.objects.update(left=9)


def test_more_than_are_there_cannot_be_scrapped(full: Loss) -> None:
    with pytest.raises(Refused, match="2 are in the register"):
        scrap(full, full.blanks(2), 3)


def test_scrapping_wants_a_reason(full: Loss) -> None:
    with pytest.raises(Refused, match="Say why they are scrapped"):
        scrap(full, full.blanks(2), 1, note=" ")


def test_a_count_that_differs_wants_a_word_and_warns(full: Loss) -> None:
    with pytest.raises(Refused, match="treat missing control blanks as a loss of security"):
        count(full, full.blanks(4), 3)


def test_a_count_that_differs_is_told(full: Loss) -> None:
    blank = count(full, full.blanks(4), 3, note="One was spoilt in June.")
    assert blank.count == 3
    assert history_of(blank)[0].sentence.endswith("-1 against the register")


def test_a_count_as_expected_is_written_down_too(full: Loss) -> None:
    blank = count(full, full.blanks(4), 4)
    assert blank.moves.filter(kind="counted", change=0).count() == 1


@pytest.mark.parametrize("number", [0, 501])
def test_it_refuses_odd_numbers(full: Loss, number: int) -> None:
    with pytest.raises(Refused, match="between 1 and 500"):
        receive(full, full.blanks(), number)


def test_an_old_page_writes_nothing(full: Loss) -> None:
    blank = full.blanks(4)
    receive(full, blank, 1)
    with pytest.raises(Conflict, match="Locksmith received 1 control blank"):
        receive(full, blank, 1)


def test_a_keyway_has_one_register_a_site(full: Loss) -> None:
    full.blanks()
    with pytest.raises(Refused, match="already"):
        full.blanks()


def test_it_refuses_a_keyway_that_no_system_has(full: Loss) -> None:
    with pytest.raises(Refused, match="has keyway ZZ"):
        services.register_blanks(actor=full.smith, site=full.site, keyway="ZZ")


def test_the_database_itself_keeps_the_count_at_none_or_more(full: Loss) -> None:
    blank = full.blanks(1)
    blank.count = -1
    with pytest.raises(IntegrityError), transaction.atomic():
        blank.save()


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_writes_into_the_register(full: Loss, role: str) -> None:
    blank = full.blanks()
    with pytest.raises(PermissionDenied):
        services.receive_blanks(actor=full.cast.everybody[role], blank=blank, version=blank.version, number=1)
