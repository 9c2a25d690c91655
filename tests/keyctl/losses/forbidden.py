"""What the constraints of losses forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.losses.models import (
    CaseDoor,
    CaseNote,
    LeftOver,
    LossCase,
    LossProof,
    LossReport,
    LossRule,
    LostCopy,
    RekeyPlan,
    WorkRates,
)
from tests import factories
from tests.cast import Cast


def a_case(cast: Cast, **facts: Any) -> LossCase:
    return LossCase.objects.create(**{"number": 1, "site": cast.north, "opened_by": cast.desk} | facts)


def a_lost_copy(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    change = factories.change_key(system)
    copy = factories.make_copy(change, factories.make_cabinet(cast.north))
    case = a_case(cast)
    for _ in range(times):
        LostCopy.objects.create(case=case, copy=copy, symbol=change, **facts)


def a_note(cast: Cast, **facts: Any) -> None:
    CaseNote.objects.create(case=a_case(cast), by=cast.desk, **facts)


def a_report(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    copy = factories.make_copy(factories.change_key(system), factories.make_cabinet(cast.north))
    holder = factories.make_holder(cast.north, user=cast.requester)
    for _ in range(times):
        LossReport.objects.create(copy=copy, holder=holder, reported_by=cast.requester, **facts)


def a_rule(cast: Cast, times: int = 1, share: int = 100) -> None:
    for _ in range(times):
        LossRule.objects.create(site=cast.north, door_class="ordinary", share=share, changed_by=cast.officer)


def a_case_door(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    row: dict[str, Any] = {"symbol": factories.change_key(system), "route": "own", "why": "below"}
    row |= {
        "operates": True,
        "withdraws": False,
        "is_due": False,
        "look": 1,
        "ordinal": 1,
        "site": cast.north,
    }
    row["case"] = facts.pop("case", None) or a_case(cast)
    cores = [factories.make_core(actor=cast.locksmith, site=cast.north, system=system) for _ in range(2)]
    for core in cores[:times]:
        CaseDoor.objects.create(**{"core": core} | row | facts)


def a_housing_told_twice(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    door = housing.door
    facts: dict[str, Any] = {
        "housing": housing,
        "door": door,
        "building": door.building,
        "door_class": "ordinary",
    }
    case = a_case(cast)
    for ordinal in (1, 2):
        a_case_door(cast, case=case, ordinal=ordinal, **facts)


def a_core_told_twice(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    case = a_case(cast)
    for ordinal in (1, 2):
        a_case_door(cast, case=case, ordinal=ordinal, core=core)


def a_plan(cast: Cast, times: int = 1, **facts: Any) -> None:
    case = a_case(cast)
    for ordinal in range(1, times + 1):
        row = {"ordinal": ordinal, "kind": "all", "label": "All", "look": 1, "made_by": cast.locksmith}
        RekeyPlan.objects.create(**{"case": case} | row | facts)


def a_proof(cast: Cast, **facts: Any) -> LossProof:
    return LossProof.objects.create(case=a_case(cast), **facts)


def a_left_over(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    row: dict[str, Any] = {"symbol": factories.change_key(system), "operates": True, "withdraws": False}
    row["core"] = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    row |= {"proof": a_proof(cast), "site": cast.north, "whereabouts": "On the shelf"}
    for _ in range(times):
        LeftOver.objects.create(**row | facts)


def an_own_close_of_a_master(cast: Cast) -> None:
    ended = {"state": "closed", "closed_at": timezone.now(), "outcome": "Found"}
    a_case(cast, has_master=True, closed_by=cast.desk, **ended)


YESTERDAY = timedelta(days=1)

FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "loss_case_number_is_unique": lambda cast: [a_case(cast) for _ in range(2)],
    "loss_case_end_says_who_and_why": lambda cast: a_case(cast, state="closed"),
    "loss_of_a_master_is_closed_by_another_person": an_own_close_of_a_master,
    "loss_case_look_says_when": lambda cast: a_case(cast, look=1),
    "lost_copy_is_in_one_case": lambda cast: a_lost_copy(cast, times=2),
    "lost_copy_is_found_after_it_was_lost": lambda cast: a_lost_copy(
        cast, found_at=timezone.now() - YESTERDAY
    ),
    "loss_note_says_something": lambda cast: a_note(cast, text=""),
    "loss_note_of_a_call_names_the_holder": lambda cast: a_note(cast, text="Told", kind="called"),
    "loss_of_a_copy_is_reported_once": lambda cast: a_report(cast, times=2),
    "loss_report_decision_says_who_and_when": lambda cast: a_report(cast, state="refused"),
    "nobody_confirms_their_own_loss": lambda cast: a_report(
        cast, state="confirmed", decided_by=cast.requester, decided_at=timezone.now()
    ),
    "loss_report_leads_to_a_case_once_confirmed": lambda cast: a_report(cast, case=a_case(cast)),
    "loss_rule_is_set_once_for_a_door_class": lambda cast: a_rule(cast, times=2),
    "loss_rule_share_is_at_most_all": lambda cast: a_rule(cast, share=1001),
    "case_tells_an_exposed_core_once_a_look": a_core_told_twice,
    "case_tells_a_housing_once_a_look": a_housing_told_twice,
    "case_door_has_its_own_place_in_a_look": lambda cast: a_case_door(cast, times=2, why="no-door"),
    "case_door_has_an_effect": lambda cast: a_case_door(cast, operates=False, why="no-door"),
    "case_door_in_a_door_says_its_class": lambda cast: a_case_door(cast, door_class="ordinary"),
    "case_door_loses_no_more_than_cut": lambda cast: a_case_door(cast, lost=2, cut=1),
    "rekey_plan_has_its_own_place": lambda cast: a_plan(cast, times=2, ordinal=1),
    "loss_case_has_one_chosen_plan": lambda cast: a_plan(
        cast, times=2, chosen_by=cast.officer, chosen_at=timezone.now()
    ),
    "rekey_plan_choice_says_who_and_when": lambda cast: a_plan(cast, chosen_at=timezone.now()),
    "work_rates_visit_takes_a_core": lambda cast: WorkRates.objects.create(
        site=cast.north, cores_per_visit=0
    ),
    "work_rates_name_their_currency": lambda cast: WorkRates.objects.create(site=cast.north, currency=""),
    "loss_proof_that_ended_says_what_it_read": lambda cast: a_proof(cast, finished_at=timezone.now()),
    "loss_proof_leaves_no_more_than_it_read": lambda cast: a_proof(cast, left=1),
    "left_over_core_is_told_once_for_a_key": lambda cast: a_left_over(cast, times=2),
    "left_over_core_has_an_effect": lambda cast: a_left_over(cast, operates=False),
}
