"""A physical fact is never refused: what contradicts marks the cores and opens or joins a case."""

from datetime import timedelta
from typing import Any

import pytest

from keyctl.audit.models import Event
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.field.models import CaseCore, FieldEvent, ReconcileCase
from keyctl.lib.errors import Refused
from keyctl.orders import services as orders
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, core_in, make_core, outcomes, tablet_of

CONFLICT = "accepted_with_conflict"


def disputed() -> set[Core]:
    return set(Core.objects.filter(disputed_at__isnull=False))


def test_two_tablets_that_took_the_same_core(cast: Cast, house: House, tablet: Tablet) -> None:
    """Both say that the spare core went into their door; the second one opens the case of both stories."""
    other_door = factories.make_housing(cast.north)
    other = tablet_of(factories.make_user(site=cast.north, role=Role.LOCKSMITH), cast.north, "Tablet 2")
    assert outcomes(tablet.send(tablet.swapped(house.housing, house.spare, house.inside))) == ["applied"]

    [answer] = other.send(other.swapped(other_door, house.spare, None))

    assert answer.outcome == CONFLICT
    assert answer.case
    assert disputed() == {house.spare}
    assert Core.objects.get(housing=house.housing) == house.spare, "the register stays as it was"
    story = answer.case.stories.get()
    assert story.says.startswith(f"put core {house.spare} into {other_door}")
    assert str(house.housing) in story.register_said
    assert story.teller == f"{other.person} with tablet Tablet 2"
    assert {row.housing for row in answer.case.case_housings.all()} == {house.housing, other_door}
    told = Event.objects.get(verb="field.contradicted")
    assert set(told.subjects.values_list("subject_id", flat=True)) >= {answer.case.pk, house.spare.pk}


def test_an_old_version_is_a_conflict_even_where_the_clock_is_later(house: House, tablet: Tablet) -> None:
    event = tablet.put(house.spare, "bench")
    cores.move_core(actor=tablet.person, core=house.spare, version=house.spare.version, place="case")
    assert outcomes(tablet.send(event)) == [CONFLICT]
    assert Core.objects.get(pk=house.spare.pk).place == "case"


@pytest.mark.parametrize("missing", ["core_in_version", "core_out_version"])
def test_without_a_version_nothing_is_taken_for_granted(house: House, tablet: Tablet, missing: str) -> None:
    event = tablet.swapped(house.housing, house.spare, house.inside, **{missing: None})
    assert outcomes(tablet.send(event)) == [CONFLICT]
    assert disputed() == {house.spare, house.inside}


def test_a_check_that_was_not_made_is_no_finished_swap(house: House, tablet: Tablet) -> None:
    event = tablet.swapped(house.housing, house.spare, house.inside, egress_and_latch_tried=False)
    [answer] = tablet.send(event)
    assert answer.outcome == CONFLICT
    assert "way out and latch were tried" in answer.reason


def test_what_the_line_was_done_with_already(cast: Cast, house: House, tablet: Tablet) -> None:
    order = orders.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Front door", housings=[house.housing]
    )
    line = order.lines.get()
    second = make_core(cast.north, by=cast.locksmith)
    late = tablet.swapped(house.housing, second, house.inside, line)
    assert outcomes(tablet.send(tablet.swapped(house.housing, house.spare, house.inside, line))) == [
        "applied"
    ]
    [answer] = tablet.send(late)
    assert answer.outcome == CONFLICT
    assert disputed() == {house.inside, house.spare, second}


def test_what_is_found_as_registered_is_applied_and_something_else_is_not(
    house: House, tablet: Tablet
) -> None:
    assert outcomes(tablet.send(tablet.found(house.housing, house.inside))) == ["applied"]
    assert not disputed()
    assert outcomes(tablet.send(tablet.found(house.housing, house.spare))) == [CONFLICT]
    assert disputed() == {house.inside, house.spare}
    assert outcomes(tablet.send(tablet.found(house.housing, house.inside))) == [CONFLICT], "it joins"
    assert ReconcileCase.objects.get().stories.count() == 2


def test_later_stories_join_the_open_case(house: House, tablet: Tablet) -> None:
    answers = tablet.send(
        tablet.put(house.spare, core_version=99),
        tablet.put(house.spare),
        tablet.swapped(house.housing, house.spare, house.inside),
    )
    assert outcomes(answers) == [CONFLICT] * 3
    case = ReconcileCase.objects.get()
    assert {answer.case for answer in answers} == {case}
    assert disputed() == {house.spare, house.inside}
    assert all(core.disputed_over == str(case) for core in disputed())


def test_a_story_that_ties_two_cases_makes_one_of_them(cast: Cast, house: House, tablet: Tablet) -> None:
    other = core_in(factories.make_housing(cast.north), by=cast.locksmith)
    tablet.send(tablet.put(house.spare, core_version=99), tablet.put(other))
    older, younger = ReconcileCase.objects.order_by("number")

    [answer] = tablet.send(tablet.swapped(house.housing, house.spare, other))

    assert answer.case == older
    younger.refresh_from_db()
    assert (younger.state, younger.merged_into) == (ReconcileCase.State.MERGED, older)
    assert older.stories.count() == 3
    rows = CaseCore.objects.filter(is_open=True)
    assert {(row.core, row.case) for row in rows} == {
        (core, older) for core in (house.spare, house.inside, other)
    }
    assert {core.disputed_over for core in disputed()} == {str(older)}


def test_who_lost_the_right_is_recorded_all_the_same(cast: Cast, house: House, tablet: Tablet) -> None:
    event = tablet.swapped(house.housing, house.spare, house.inside)
    Membership.objects.filter(user=cast.locksmith).delete()
    [answer] = tablet.send(event)
    assert answer.outcome == CONFLICT
    assert disputed() == {house.spare, house.inside}
    assert FieldEvent.objects.get().case == ReconcileCase.objects.get()


def test_what_nobody_knows_is_kept_without_a_core(house: House, tablet: Tablet) -> None:
    unknown = tablet.event("put", core="nobody's tag", core_version=1, place="shelf")
    remark = tablet.event("noted", door=str(house.spare.pk), line=None, text="Hinge squeaks")
    answers = tablet.send(unknown, remark)
    assert outcomes(answers) == [CONFLICT] * 2
    assert ReconcileCase.objects.count() == 2
    assert not disputed()


def test_a_core_of_another_site_gets_a_case_there(cast: Cast, house: House, tablet: Tablet) -> None:
    foreign = make_core(cast.south, by=cast.stranger)
    [answer] = tablet.send(tablet.swapped(house.housing, foreign, house.inside))
    cases = {case.site: case for case in ReconcileCase.objects.all()}
    assert set(cases) == {cast.north, cast.south}
    assert answer.case == cases[cast.north]
    assert [row.core for row in cases[cast.south].case_cores.all()] == [foreign]
    assert str(house.housing) not in cases[cast.south].stories.get().says
    assert str(foreign.site) not in answer.reason


def test_ordinary_acts_refuse_a_disputed_core_and_name_the_case(
    cast: Cast, house: House, tablet: Tablet
) -> None:
    tablet.send(tablet.found(house.housing, house.spare))
    case = ReconcileCase.objects.get()
    spare = Core.objects.get(pk=house.spare.pk)
    facts: dict[str, Any] = {"actor": cast.locksmith, "core": spare, "version": spare.version}
    with pytest.raises(Refused, match=str(case)):
        cores.move_core(**facts, place="bench")
    with pytest.raises(Refused, match=str(case)):
        cores.pin_core(**facts)
    with pytest.raises(Refused, match=str(case)):
        cores.empty_cores(actor=cast.locksmith, site=cast.north, cores=[spare])
    third = make_core(cast.north, by=cast.locksmith)
    swap: dict[str, Any] = {
        "actor": cast.locksmith,
        "core_in": third,
        "core_in_version": third.version,
        "put_at": "shelf",
    }
    with pytest.raises(Refused, match=str(case)):
        cores.exchange_core(housing=house.housing, core_out_id=house.inside.pk, **swap)


def test_an_empty_housing_in_a_case_takes_no_core(cast: Cast, house: House, tablet: Tablet) -> None:
    empty = factories.make_housing(cast.north)
    tablet.send(tablet.found(empty, house.spare))
    third = make_core(cast.north, by=cast.locksmith)
    with pytest.raises(Refused, match="is disputed"):
        cores.exchange_core(
            actor=cast.locksmith,
            housing=empty,
            core_in=third,
            core_in_version=third.version,
            core_out_id=None,
            put_at="shelf",
        )


def test_a_clock_that_is_wrong_is_noted(house: House, tablet: Tablet) -> None:
    tablet.send_late(tablet.put(house.spare), by=timedelta(minutes=6))
    event = FieldEvent.objects.get()
    assert event.skew_seconds is not None
    assert -375 <= event.skew_seconds <= -360


def test_what_was_handed_in_for_another(cast: Cast, house: House, tablet: Tablet) -> None:
    """A file proves nothing of who did it: whoever hands it in answers for it, but for another's case."""
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    moved, carried = tablet.put(house.spare, "bench"), tablet.put(house.inside, "case")
    answers = tablet.send(moved, carried, actor=colleague, via="file", device=None)
    assert outcomes(answers) == ["applied", CONFLICT]
    assert Event.objects.get(verb="core.moved").actor == colleague
    told = Event.objects.get(verb="field.sent_for_another")
    assert "handed in by Colleague" in told.sentence


def test_a_tablet_is_not_believed_about_people_who_never_signed_in_on_it(cast: Cast, house: House) -> None:
    """Nobody writes history in another's name with a tablet of their own."""
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    own = tablet_of(colleague, cast.north, "Own tablet")
    forged = Tablet(cast.locksmith, own.device)
    assert outcomes(forged.send(forged.put(house.spare), actor=colleague)) == ["applied"]
    assert Event.objects.get(verb="core.moved").actor == colleague


def test_a_shared_tablet_tells_who_did_it(cast: Cast, house: House, tablet: Tablet) -> None:
    colleague = factories.make_user("colleague", site=cast.north, role=Role.LOCKSMITH)
    assert outcomes(tablet.send(tablet.put(house.spare, "case"), actor=colleague)) == ["applied"]
    assert Event.objects.get(verb="core.moved").actor == cast.locksmith
    assert Core.objects.get(pk=house.spare.pk).carrier == cast.locksmith
    assert Event.objects.get(verb="field.sent_for_another").actor == colleague
