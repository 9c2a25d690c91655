"""Two people act on a loss at the same moment, each on a connection of their own: one case, one winner."""

from functools import partial
from typing import Any

import pytest

from keyctl.keys import services as keys
from keyctl.lib.errors import Conflict, Refused
from keyctl.losses.models import LossCase, LostCopy
from keyctl.losses.services import close_case, confirm_report, report_own_loss, take_up
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.losses.estate import Estate
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def refused(outcomes: list[Any]) -> Refused:
    (refusal,) = (each for each in outcomes if isinstance(each, Refused))
    return refusal


def test_two_copies_of_a_key_lost_at_once_come_into_one_case(estate: Estate) -> None:
    first, second = estate.copies("AA1", 2)
    at_once(
        partial(keys.report_lost, actor=estate.cast.desk, copy=first, note="Gone"),
        partial(keys.report_lost, actor=estate.cast.officer, copy=second, note="Gone"),
    )
    assert LossCase.objects.get().lost_copies.count() == 2


def test_two_keys_lost_at_once_have_cases_of_their_own_numbers(estate: Estate) -> None:
    (first,), (second,) = estate.copies("AA1"), estate.copies("AB1")
    at_once(
        partial(keys.report_lost, actor=estate.cast.desk, copy=first, note="Gone"),
        partial(keys.report_lost, actor=estate.cast.officer, copy=second, note="Gone"),
    )
    assert sorted(LossCase.objects.values_list("number", flat=True)) == [1, 2]


def test_a_holders_report_is_confirmed_once(estate: Estate) -> None:
    copy = estate.held("AA1", factories.make_holder(estate.cast.north, user=estate.cast.requester))
    report = report_own_loss(actor=estate.cast.requester, copy=copy, note="Gone")
    outcomes = at_once(
        partial(confirm_report, actor=estate.cast.desk, report=report),
        partial(confirm_report, actor=estate.cast.officer, report=report),
    )
    assert "confirmed already" in refused(outcomes).message
    assert LostCopy.objects.count() == 1


def test_of_two_who_close_a_case_one_wins(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    second = factories.make_user(site=estate.cast.north, role=Role.OFFICER)
    outcomes = at_once(
        *(
            partial(
                close_case,
                actor=officer,
                case=case,
                version=case.version,
                outcome="Melted",
                without_proof=True,
            )
            for officer in (estate.cast.officer, second)
        )
    )
    assert isinstance(refused(outcomes), Conflict)


def test_a_copy_lost_while_its_case_is_closed_is_in_no_closed_case(estate: Estate) -> None:
    """Either it came first, and the officer looks again; or it came after, and has a case of its own."""
    first, second = estate.copies("AA1", 2)
    case = estate.lose(first)
    facts: dict[str, Any] = {"case": case, "version": case.version, "outcome": "Melted"}
    at_once(
        partial(close_case, actor=estate.cast.officer, without_proof=True, **facts),
        partial(keys.report_lost, actor=estate.cast.desk, copy=second, note="Gone"),
    )
    assert LostCopy.objects.get(copy=second).case.is_unfinished


def test_lost_copies_without_a_case_are_taken_up_once(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    estate.lose(copy)
    LossCase.objects.get().lost_copies.all().delete()
    outcomes = at_once(
        *(partial(take_up, actor=actor, copy=copy) for actor in (estate.cast.desk, estate.cast.officer))
    )
    assert isinstance(refused(outcomes), Conflict)
    assert LostCopy.objects.count() == 1
