"""A person says what is where; the register follows, and what was written before stays stale."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import Whereabouts
from keyctl.field import services
from keyctl.field.models import CaseHousing, ReconcileCase
from keyctl.lib.errors import Conflict, Refused
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, core_in, make_core, outcomes

SHELF = Whereabouts("shelf")
NOTE = "Looked at the door"


@pytest.fixture
def case(house: House, tablet: Tablet) -> ReconcileCase:
    """Somebody found the spare core in the door; the register has the other one there."""
    tablet.send(tablet.found(house.housing, house.spare))
    return ReconcileCase.objects.get()


def settle(case: ReconcileCase, actor: Any, places: dict[Core, Whereabouts], **facts: Any) -> None:
    services.settle_case(actor=actor, case=case, places=places, **{"note": NOTE} | facts)


def place_of(core: Core) -> tuple[str, Any, bool]:
    fresh = Core.objects.get(pk=core.pk)
    return fresh.place, fresh.housing, fresh.is_disputed


def test_the_cores_are_where_the_person_says(cast: Cast, house: House, case: ReconcileCase) -> None:
    settle(case, cast.locksmith, {house.spare: Whereabouts("housing", house.housing), house.inside: SHELF})

    assert place_of(house.spare) == ("housing", house.housing, False)
    assert place_of(house.inside) == ("shelf", None, False)
    case.refresh_from_db()
    assert (case.state, case.settled_by, case.note) == ("settled", cast.locksmith, NOTE)
    assert {row.core: row.decided for row in case.case_cores.all()} == {
        house.spare: f"in {house.housing}",
        house.inside: "on the shelf",
    }
    told = Event.objects.get(verb="field.case_settled")
    assert f"core {house.spare} is in {house.housing}" in told.sentence
    [story] = told.detail["stories"]
    assert "found core" in story["told"]
    assert f"core {house.inside} is in {house.housing}" in story["register"]


def test_two_cores_change_places(cast: Cast, house: House, tablet: Tablet) -> None:
    """No order of single moves would do: each housing holds one core."""
    housing = factories.make_housing(cast.north)
    other = core_in(housing, by=cast.locksmith)
    tablet.send(tablet.found(house.housing, other))
    case = ReconcileCase.objects.get()
    swapped = {
        other: Whereabouts("housing", house.housing),
        house.inside: Whereabouts("housing", housing),
    }
    settle(case, cast.locksmith, swapped)
    assert place_of(other)[1] == house.housing
    assert place_of(house.inside)[1] == housing


def test_every_core_of_the_case_needs_its_place(cast: Cast, house: House, case: ReconcileCase) -> None:
    with pytest.raises(Refused, match=f"Say of core {house.inside}"):
        settle(case, cast.locksmith, {house.spare: SHELF})


def test_a_third_core_that_is_pushed_out_is_placed_as_well(
    cast: Cast, house: House, case: ReconcileCase
) -> None:
    housing = factories.make_housing(cast.north)
    third = core_in(housing, by=cast.locksmith)
    places = {house.spare: SHELF, house.inside: Whereabouts("housing", housing)}
    with pytest.raises(Refused, match=f"By the register core {third}"):
        settle(case, cast.locksmith, places)
    assert place_of(house.inside)[2], "nothing was changed"

    settle(case, cast.locksmith, places | {third: Whereabouts("case", carrier=cast.locksmith)})
    assert Core.objects.get(pk=third.pk).carrier == cast.locksmith


def test_whoever_is_disputed_in_another_case_gives_way(
    cast: Cast, house: House, tablet: Tablet, case: ReconcileCase
) -> None:
    housing = factories.make_housing(cast.north)
    third = core_in(housing, by=cast.locksmith)
    tablet.send(tablet.put(third))
    settle(case, cast.locksmith, {house.spare: SHELF, house.inside: Whereabouts("housing", housing)})
    assert place_of(house.inside) == ("housing", housing, False)
    assert place_of(third) == ("bench", None, True)
    told = Event.objects.get(verb="field.case_settled")
    assert f"core {third}, in case 2, gave way" in told.detail["decisions"]
    assert told.subjects.filter(subject_id=third.pk).exists()
    assert not CaseHousing.objects.filter(case=case, is_open=True).exists()


def test_two_cores_do_not_fit_one_housing(cast: Cast, house: House, case: ReconcileCase) -> None:
    there = Whereabouts("housing", house.housing)
    with pytest.raises(Refused, match="holds one core"):
        settle(case, cast.locksmith, {house.spare: there, house.inside: there})


@pytest.mark.parametrize(
    "where", [Whereabouts("housing"), Whereabouts("case"), Whereabouts("moon"), Whereabouts("")]
)
def test_a_place_that_is_none_is_refused(
    cast: Cast, house: House, case: ReconcileCase, where: Whereabouts
) -> None:
    with pytest.raises(Refused, match=f"core {house.spare}"):
        settle(case, cast.locksmith, {house.spare: where, house.inside: SHELF})


def test_nobody_knows_where_it_is(cast: Cast, house: House, tablet: Tablet, case: ReconcileCase) -> None:
    """It counts as gone; whoever finds it later tells a contradiction, and settling puts it back."""
    there = Whereabouts("housing", house.housing)
    settle(case, cast.locksmith, {house.spare: there, house.inside: services.NOWHERE_KNOWN})
    assert place_of(house.inside)[0] == "gone"
    gone = Core.objects.get(pk=house.inside.pk)
    [answer] = tablet.send(tablet.put(gone, "bench"))
    assert answer.case
    settle(answer.case, cast.locksmith, {gone: Whereabouts("bench")})
    assert place_of(gone)[0] == "bench"


def test_what_was_written_before_the_decision_stays_stale(
    cast: Cast, house: House, tablet: Tablet, case: ReconcileCase
) -> None:
    """Whatever versions a tablet reckoned ahead, none of them is the one after the decision."""
    written = [
        tablet.put(house.spare, core_version=house.spare.version + ahead) for ahead in range(0, 600, 20)
    ]
    settle(case, cast.locksmith, {house.spare: SHELF, house.inside: Whereabouts("housing", house.housing)})
    answers = tablet.send(*written)
    assert set(outcomes(answers)) == {"accepted_with_conflict"}
    assert place_of(house.spare)[0] == "shelf"


def test_it_is_settled_once_by_who_has_read_all(
    cast: Cast, house: House, tablet: Tablet, case: ReconcileCase
) -> None:
    places = {house.spare: SHELF, house.inside: Whereabouts("housing", house.housing)}
    tablet.send(tablet.put(house.spare))
    with pytest.raises(Conflict, match="further story"):
        settle(case, cast.locksmith, places, stories_seen=1)
    with pytest.raises(Refused, match="Say how you know"):
        settle(case, cast.locksmith, places, note=" ")
    settle(case, cast.locksmith, places, stories_seen=2)
    with pytest.raises(Conflict, match="settled this case already"):
        settle(case, cast.locksmith, places)


def test_a_foreign_core_or_door_is_not_placed(cast: Cast, house: House, case: ReconcileCase) -> None:
    places = {house.spare: SHELF, house.inside: SHELF}
    with pytest.raises(Refused, match="another site"):
        settle(case, cast.locksmith, places | {make_core(cast.south, by=cast.stranger): SHELF})
    foreign = Whereabouts("housing", factories.make_housing(cast.south))
    with pytest.raises(Refused, match="another site"):
        settle(case, cast.locksmith, places | {house.spare: foreign})


def test_only_locksmiths_of_the_site_settle(cast: Cast, house: House, case: ReconcileCase) -> None:
    places = {house.spare: SHELF, house.inside: SHELF}
    for name, person in cast.everybody.items():
        if name != "locksmith":
            with pytest.raises(Http404 if name == "stranger" else PermissionDenied):
                settle(case, person, places)


def test_the_page_asks_for_who_is_pushed_out_and_settles(
    cast: Cast, house: House, case: ReconcileCase, client: Client
) -> None:
    client.force_login(cast.locksmith)
    housing = factories.make_housing(cast.north)
    third = core_in(housing, by=cast.locksmith)
    page, url = reverse("field:case", args=[case.pk]), reverse("field:settle", args=[case.pk])
    assert f"where_{house.spare.pk}" in client.get(page).content.decode()
    told = {
        f"where_{house.spare.pk}": "another",
        f"door_{house.spare.pk}": housing.door.tag.lower(),
        f"where_{house.inside.pk}": f"housing:{house.housing.pk}",
        "note": NOTE,
        "stories_seen": 1,
    }
    first = client.post(url, told)
    assert first.status_code == 422
    assert f"where_{third.pk}" in first.content.decode()
    assert client.post(url, told | {f"where_{third.pk}": "nowhere"}).status_code == 302
    assert place_of(house.spare)[1] == housing
    assert place_of(third)[0] == "gone"


def test_a_row_that_an_earlier_answer_asked_for_is_passed_over(
    cast: Cast, house: House, case: ReconcileCase, client: Client
) -> None:
    client.force_login(cast.locksmith)
    third = core_in(factories.make_housing(cast.north), by=cast.locksmith)
    told = {
        f"where_{house.spare.pk}": f"housing:{house.housing.pk}",
        f"where_{house.inside.pk}": "shelf",
        f"where_{third.pk}": "gone",
        "note": NOTE,
        "stories_seen": 1,
    }
    assert client.post(reverse("field:settle", args=[case.pk]), told).status_code == 302
    assert place_of(third)[0] == "housing"


@pytest.mark.parametrize("place", ["housing", "gone"])
def test_a_core_that_has_nothing_to_do_with_the_case_is_not_moved_by_it(
    cast: Cast, house: House, case: ReconcileCase, place: str
) -> None:
    """A decision is no way past orders, their checks and the bench."""
    other = make_core(cast.north, by=cast.locksmith)
    elsewhere = factories.make_housing(cast.north) if place == "housing" else None
    places = {
        house.spare: Whereabouts("housing", house.housing),
        house.inside: SHELF,
        other: Whereabouts(place, elsewhere),
    }
    with pytest.raises(Refused, match="nothing to do with this case"):
        settle(case, cast.locksmith, places)
    assert place_of(other) == ("shelf", None, False)
