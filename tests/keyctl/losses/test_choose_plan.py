"""A plan is chosen: keys are made, cores and orders follow, and in the end the lost cuts turn nothing."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import empty_cores
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.losses import services
from keyctl.losses.models import LossCase
from keyctl.losses.planning import showing
from keyctl.orders.models import OrderLine
from keyctl.orders.services import open_swap_order
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols
from keyctl.vault import services as vault
from tests.cast import Cast
from tests.factories import make_floor, make_user
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate
from tests.keyctl.losses.mechanics import cuts_of, effect, turned_by
from tests.keyctl.losses.rekeying import choose, plan_of, planned, work

pytestmark = pytest.mark.django_db

NAMES = ("AA1", "AA2", "AB1", "AB2")


@pytest.fixture
def house(estate: Estate) -> Estate:
    for name in NAMES:
        estate.door(name)
    return estate


def in_doors() -> QuerySet[Core]:
    return Core.objects.filter(place=Core.Place.HOUSING).select_related("system")


def keyed_to(core: Core) -> set[str]:
    return {str(symbol) for symbol in core.keyed_to.all()}


def cuts_before(estate: Estate, name: str) -> list[int]:
    return cuts_of(KeySymbol.objects.select_related("system").get(system=estate.system, symbol=name))


def test_a_lost_change_key_ends_with_a_proof(house: Estate, cast: Cast) -> None:
    house.held("AA1")
    lost = cuts_before(house, "AA1")
    case = planned(house, "AA1")
    choose(house, case, "replace")
    assert case.state == LossCase.State.WORKING
    kinds = list(case.case_orders.values_list("order__kind", flat=True))
    assert kinds == ["pin", "swap", "cut"]
    work(cast, case)
    assert not [core for core in in_doors() if any(effect(core, lost))]
    new = next(core for core in in_doors() if "AA3" in keyed_to(core))
    assert turned_by(new) == {"A", "AA", "AA3"}
    fresh = KeyCopy.objects.filter(symbol__symbol="AA3", state=KeyCopy.State.IN_CABINET)
    assert fresh.count() == 2  # for who has one, and for who lost one
    assert KeySymbol.objects.get(symbol="AA1").is_retired
    loose = list(showing.loose_cores(case))
    assert len(loose) == 1
    sites = Site.objects.filter(pk=cast.north.pk)
    assert showing.loose_at(cast.locksmith, case, sites) == loose
    Core.objects.filter(pk=loose[0].pk).update(disputed_at=timezone.now(), disputed_over="case 1")
    assert showing.loose_at(cast.locksmith, case, sites) == []
    Core.objects.filter(pk=loose[0].pk).update(disputed_at=None, disputed_over="")
    empty_cores(actor=cast.locksmith, site=cast.north, cores=loose)
    services.look(actor=cast.officer, case=case)
    proof = services.prove_case(actor=cast.officer, case=case)
    proof.refresh_from_db()
    assert proof.is_clean


@pytest.mark.parametrize("kind", ["replace", "take-out", "new-part"])
def test_a_lost_top_master_turns_nothing_after_each_of_its_plans(
    house: Estate, cast: Cast, kind: str
) -> None:
    lost = cuts_before(house, "A")
    case = planned(house, "A")
    plan = choose(house, case, kind)
    work(cast, case)
    assert in_doors().count() == len(NAMES)
    assert not [core for core in in_doors() if any(effect(core, lost))]
    top = {"replace": "A-2", "take-out": None, "new-part": "A"}[kind]
    for core in in_doors():
        assert core.system
        own = keyed_to(core).pop()
        assert turned_by(core) == {own, own[:-1], *([top] if top else [])}
        (control,) = core.system.symbols.filter(kind="control").select_related("system")
        assert effect(core, cuts_of(control)) == (False, True)
    assert (KeySystem.objects.count() == 2) == (kind == "new-part")
    assert plan.figures["cores"] == len(NAMES)


def test_keys_that_stay_turn_what_they_turned_and_nothing_else(house: Estate, cast: Cast) -> None:
    before = {keyed_to(core).pop(): turned_by(core) for core in in_doors()}
    case = planned(house, "A")
    choose(house, case, "replace")
    work(cast, case)
    after = {keyed_to(core).pop(): turned_by(core) for core in in_doors()}
    assert {own: keys - {"A"} for own, keys in before.items()} == {
        own: keys - {"A-2"} for own, keys in after.items()
    }


def test_a_lost_page_master_gives_way_to_a_new_page(house: Estate, cast: Cast) -> None:
    lost = cuts_before(house, "AA")
    untouched = {core.pk: turned_by(core) for core in in_doors() if keyed_to(core) & {"AB1", "AB2"}}
    case = planned(house, "AA")
    choose(house, case, "new-part")
    work(cast, case)
    assert not [core for core in in_doors() if any(effect(core, lost))]
    new = {keyed_to(core).pop(): turned_by(core) for core in in_doors() if core.pk not in untouched}
    assert new == {"AC1": {"A", "AC", "AC1"}, "AC2": {"A", "AC", "AC2"}}
    assert {core.pk: turned_by(core) for core in in_doors() if core.pk in untouched} == untouched
    retired = KeySymbol.objects.filter(retired_at__isnull=False).values_list("symbol", flat=True)
    assert set(retired) == {"AA", "AA1", "AA2"}


def test_a_spare_core_in_hand_is_keyed_anew_itself(house: Estate, cast: Cast) -> None:
    spare = house.core("AA1")
    case = planned(house, "AA1")
    choose(house, case, "replace")
    spare.refresh_from_db()
    assert keyed_to(spare) == {"AA3"}
    work(cast, case)
    spare.refresh_from_db()
    assert turned_by(spare) == {"A", "AA", "AA3"}


def test_swaps_are_ordered_building_by_building(house: Estate, cast: Cast) -> None:
    house.door("AA1", floor=make_floor(cast.north))
    case = planned(house, "AA1")
    choose(house, case, "replace")
    swaps = case.case_orders.filter(order__kind="swap")
    assert [row.order.lines.count() for row in swaps] == [1, 1]


def test_many_cores_are_written_by_a_job_that_goes_on_where_it_stopped(
    house: Estate, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keyctl.losses.services.choosing.MOST_AT_ONCE", 1)
    case = planned(house, "A")
    job = services.choose_plan(
        actor=cast.officer, case=case, plan=plan_of(case, "replace"), version=case.version
    )
    assert job
    case.refresh_from_db()
    assert case.state == LossCase.State.PLANNED
    finish(job)
    case.refresh_from_db()
    assert case.state == LossCase.State.WORKING
    assert OrderLine.objects.filter(order__kind="swap").count() == len(NAMES)


def test_who_chooses(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    plan = plan_of(case, "replace")
    for name in ("locksmith", "desk", "manager", "auditor", "administrator"):
        with pytest.raises(PermissionDenied):
            services.choose_plan(actor=cast.everybody[name], case=case, plan=plan, version=case.version)
    assert not plan.chosen_at


def test_a_master_is_decided_by_a_second_person(house: Estate, cast: Cast) -> None:
    case = house.lose(house.held("A"))
    finish(services.make_plans(actor=cast.officer, case=case))
    case.refresh_from_db()
    with pytest.raises(Refused, match="another security officer"):
        choose(house, case, "replace")
    second = make_user("second", site=cast.north, role=Role.OFFICER)
    plan = plan_of(case, "replace")
    services.choose_plan(actor=second, case=case, plan=plan, version=case.version)
    plan.refresh_from_db()
    assert plan.chosen_by == second


def test_a_page_that_is_old_chooses_nothing(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    with pytest.raises(Conflict, match="has changed since you looked"):
        services.choose_plan(
            actor=cast.officer, case=case, plan=plan_of(case, "replace"), version=case.version - 1
        )


def test_a_plan_is_stale_once_a_key_was_made_or_a_core_pinned(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    parent = house.key("AB")
    entry = NewKey("AB9", KeySymbol.Kind.CHANGE, "0" * 7, parent, 2, 8)
    add_symbols(
        actor=cast.locksmith, system=house.system, entries=[entry], origin=KeySymbol.Origin.BROUGHT_IN
    )
    with pytest.raises(Conflict, match="worked out anew"):
        choose(house, case, "replace")


def test_a_swap_that_waits_at_a_door_already_gives_way(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    mine, other = (
        next(core for core in in_doors() if name in keyed_to(core)).housing for name in ("AA1", "AB2")
    )
    assert mine
    assert other
    old = open_swap_order(actor=cast.locksmith, site=cast.north, title="Worn", housings=[mine, other])
    choose(house, case, "replace")
    assert {line.housing: line.state for line in old.lines.all()} == {mine: "cancelled", other: "open"}
    assert Event.objects.filter(verb="order.lines_taken_over").count() == 1
    work(cast, case)
    old.refresh_from_db()
    assert old.is_open


def test_a_case_that_is_taken_up_again_gets_another_plan(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    first = choose(house, case, "replace")
    LossCase.objects.filter(pk=case.pk).update(state=LossCase.State.OPEN)
    services.look(actor=cast.officer, case=case)
    finish(services.make_plans(actor=cast.locksmith, case=case))
    case.refresh_from_db()
    newest = case.plans.filter(kind="replace").latest("ordinal")
    services.choose_plan(actor=cast.officer, case=case, plan=newest, version=case.version)
    assert case.plans.get(chosen_at__isnull=False) == newest
    assert case.plans.filter(pk=first.pk).exists()


def test_history_tells_of_the_choice_and_of_the_keys_without_their_cuts(house: Estate, cast: Cast) -> None:
    case = planned(house, "AA1")
    choose(house, case, "replace")
    verbs = set(Event.objects.values_list("verb", flat=True))
    assert {"loss.planned", "loss.plan_chosen", "loss.work_opened", "system.extended"} <= verbs
    cuts = {vault.unseal(key, "bitting") for key in KeySymbol.objects.all()}
    words = " ".join(f"{event.sentence} {event.detail}" for event in Event.objects.all())
    assert not [text for text in cuts if text in words]


def test_taking_a_lost_key_out_of_a_cross_keyed_door_keeps_the_master_above_it(
    estate: Estate, cast: Cast
) -> None:
    estate.door("AA1", "AB2")
    assert turned_by(in_doors().get()) >= {"AA1", "AA"}
    case = planned(estate, "AA1")
    choose(estate, case, "take-out")
    work(cast, case)
    turned = turned_by(in_doors().get())
    assert turned >= {"A", "AA", "AB", "AB2"}
    assert "AA1" not in turned


def test_two_lost_masters_of_one_line_are_replaced_in_one_case(house: Estate, cast: Cast) -> None:
    lost = [cuts_before(house, name) for name in ("A", "AB")]
    case = house.lose(house.held("A"))
    house.lose(house.held("AB")).lost_copies.update(case=case)
    services.look(actor=cast.officer, case=case)
    finish(services.make_plans(actor=cast.locksmith, case=case))
    case.refresh_from_db()
    choose(house, case, "replace")
    work(cast, case)
    assert not [core for core in in_doors() for cuts in lost if any(effect(core, cuts))]
    tops = {keyed_to(core).pop(): turned_by(core) for core in in_doors()}
    assert tops["AA1"] == {"AA1", "AA", "A-2"}
    assert tops["AB1"] == {"AB1", "AB-2", "A-2"}
