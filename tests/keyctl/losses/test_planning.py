"""Plans side by side: which there are, what they say, and why one cannot be gone."""

from typing import Any

import pytest

from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict
from keyctl.losses import services
from keyctl.losses.models import LossCase, LossRule, RekeyPlan
from keyctl.losses.planning.plans import Plan, plans_for
from keyctl.losses.planning.showing import shown_plans
from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate

pytestmark = pytest.mark.django_db

NAMES = ("AA1", "AA2", "AB1", "AB2")


def by_kind(plans: list[Plan], scope: str = "all") -> dict[str, Plan]:
    return {plan.kind: plan for plan in plans if plan.figures["scope"] == scope}


def lost(estate: Estate, name: str) -> LossCase:
    case = estate.lose(estate.held(name))
    case.refresh_from_db()
    return case


def test_a_change_key_gets_the_next_free_one_of_its_page(estate: Estate) -> None:
    for name in NAMES:
        estate.door(name)
    others = [estate.held("AA1"), *estate.copies("AA1", 2)]
    plan = by_kind(plans_for(lost(estate, "AA1")))["replace"]
    figures = plan.figures
    assert figures["possible"]
    assert (figures["cores"], figures["left"], figures["keys"]) == (1, 0, 1)
    assert figures["shown_keys"] == [{"symbol": "AA3", "instead": "AA1", "copies": len(others) + 1}]
    assert (figures["called_back"], figures["holders"]) == (3, 1)


def test_where_only_masters_would_be_left_the_lost_change_key_can_be_taken_out(estate: Estate) -> None:
    estate.door("AA1")
    plan = by_kind(plans_for(lost(estate, "AA1")))["take-out"]
    assert plan.figures["possible"]
    assert (plan.figures["keys"], plan.figures["copies"]) == (0, 0)


def test_a_master_of_a_page_is_not_replaced_within_it_and_the_reason_is_proven(estate: Estate) -> None:
    for name in NAMES:
        estate.door(name)
    plans = by_kind(plans_for(lost(estate, "AA")))
    assert "let the lost cuts in anyhow" in plans["replace"].figures["why_not"][0]
    assert "let the lost cuts into 2 of the cores" in plans["take-out"].figures["why_not"][0]
    part = plans["new-part"].figures
    assert [row["symbol"] for row in part["shown_keys"]] == ["AC", "AC1", "AC2"]


def test_a_top_master_is_replaced_taken_out_or_gives_way_to_a_new_system(estate: Estate) -> None:
    for name in NAMES:
        estate.door(name)
    plans = by_kind(plans_for(lost(estate, "A")))
    assert all(plan.figures["possible"] for plan in plans.values())
    assert plans["replace"].figures["shown_keys"] == [{"symbol": "A-2", "instead": "A", "copies": 1}]
    assert plans["new-part"].figures["keys"] == 7
    assert "control key of its own" in " ".join(plans["new-part"].figures["changes"])


def test_cross_keyed_cores_keep_their_other_keys_unless_these_let_the_lost_one_in(estate: Estate) -> None:
    estate.door("AA1")
    estate.door("AA1", "AB2")
    plan = by_kind(plans_for(lost(estate, "AA1")))["replace"]
    assert plan.figures["cores"] == 2
    assert [row["instead"] for row in plan.figures["shown_keys"]] == ["AA1"]
    estate.door("AA1", "AB1")  # the cuts of AB1 and the masters together are those of AA1
    plan = by_kind(plans_for(lost(estate, "AA1")))["replace"]
    assert sorted(row["instead"] for row in plan.figures["shown_keys"]) == ["AA1", "AB1"]
    assert "In 1 cross-keyed cores" in " ".join(plan.figures["changes"])


def test_a_plan_for_the_doors_that_are_due_says_what_stays_open(estate: Estate, cast: Cast) -> None:
    for door_class, share in (("ordinary", 900), ("restricted", 0)):
        LossRule.objects.update_or_create(
            site=cast.north, door_class=door_class, defaults={"share": share, "changed_by": cast.officer}
        )
    estate.copies("AA1", 30)
    estate.door("AA1", door_class="restricted")
    estate.door("AA1", door_class="ordinary")
    plans = plans_for(lost(estate, "AA1"))
    figures = by_kind(plans, "due")["replace"].figures
    assert (figures["cores"], figures["due"], figures["left"], figures["left_due"]) == (1, 1, 1, 0)
    assert "Stays open to the lost key: 1 ordinary door." in figures["stays"]
    assert "The lost key is not retired: other doors still go by it." in figures["stays"]


def test_planning_is_a_job_that_keeps_its_plans_without_a_bitting(estate: Estate, cast: Cast) -> None:
    for name in NAMES:
        estate.door(name)
    case = lost(estate, "A")
    job = finish(services.make_plans(actor=cast.officer, case=case))
    assert job.state == Job.State.DONE
    rows = list(RekeyPlan.objects.filter(case=case))
    assert [row.ordinal for row in rows] == list(range(1, len(rows) + 1))
    bittings = {vault.unseal(key, "bitting") for key in KeySymbol.objects.all()}
    coming = {text for row in rows if row.secret for text in _bittings(row)}
    open_words = " ".join([str(row.figures) + row.label for row in rows] + [str(job.outcome), job.words])
    assert coming
    assert not [text for text in bittings | coming if text in open_words]


def _bittings(row: RekeyPlan) -> set[str]:
    from keyctl.losses.planning.plans import secret_of

    keys: list[dict[str, Any]] = secret_of(row)["coming"]
    return {key["bitting"] for key in keys}


def test_plans_are_not_worked_out_twice_at_once(estate: Estate, cast: Cast) -> None:
    estate.door("AA1")
    case = lost(estate, "AA1")
    services.make_plans(actor=cast.officer, case=case)
    with pytest.raises(Conflict, match="being worked out already"):
        services.make_plans(actor=cast.locksmith, case=case)


def test_holders_of_other_sites_are_counted_and_not_named(estate: Estate, cast: Cast) -> None:
    case = lost(estate, "AA1")
    here, elsewhere = (factories.make_holder(site) for site in (cast.north, cast.south))
    named = [{"pk": str(each.pk), "name": each.name, "copies": 1} for each in (here, elsewhere)]
    figures = {"possible": True, "holders": 2, "shown_holders": named}
    facts: dict[str, Any] = {
        "kind": "replace",
        "figures": figures,
        "look": case.look,
        "made_by": cast.officer,
    }
    RekeyPlan.objects.create(case=case, ordinal=1, **facts)
    for reader, known in ((cast.manager, here), (cast.stranger, elsewhere)):
        (shown,) = shown_plans(reader, case)
        assert [row["name"] for row in shown.figures["shown_holders"]] == [known.name]
        assert shown.figures["holders"] == 2
