"""Changing places: history keeps what was there before, doubles are refused, each wants its role."""

from collections.abc import Callable

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.places import services
from keyctl.places.models import Door, Housing, Space
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast

Act = Callable[[User], object]


@pytest.fixture
def door(cast: Cast) -> Door:
    return factories.make_door(cast.north, number="101", name="Store")


@pytest.fixture
def space(cast: Cast, door: Door) -> Space:
    return Space.objects.create(floor=door.floor, number="1.01", name="Hall")


def acts_on(door: Door, space: Space) -> dict[str, Act]:
    """One change of each kind of place."""
    housing = factories.make_housing(door=door)
    return {
        "building": lambda who: services.change_building(actor=who, building=door.building, name="Annex"),
        "floor": lambda who: services.change_floor(actor=who, floor=door.floor, level=3),
        "space": lambda who: services.change_space(actor=who, space=space, name="Lobby"),
        "door": lambda who: services.change_door(actor=who, door=door, name="Library"),
        "housing": lambda who: services.change_housing(actor=who, housing=housing, label="Lower"),
    }


def test_each_kind_is_changed_by_its_keepers_and_by_nobody_else(cast: Cast, door: Door, space: Space) -> None:
    program = factories.make_user("program", site=cast.north, role=Role.INTEGRATION)
    for kind, act in acts_on(door, space).items():
        is_of_doors = kind in {"door", "housing"}
        for person in (cast.auditor, cast.desk, cast.officer, cast.manager, cast.requester):
            with pytest.raises(PermissionDenied):
                act(person)
        if not is_of_doors:
            with pytest.raises(PermissionDenied):
                act(cast.locksmith)
        with pytest.raises(Http404):
            act(cast.stranger)
        act(program)


def test_history_keeps_what_was_there_before_and_who_changed_it(cast: Cast, door: Door) -> None:
    services.change_door(actor=cast.locksmith, door=door, number="102", is_egress=True, name="Store")
    event = history_of(door)[0]
    assert (event.verb, event.actor_name) == ("door.changed", cast.locksmith.display_name)
    assert event.detail == {
        "before": {"number": "101", "is_egress": False},
        "after": {"number": "102", "is_egress": True},
    }
    assert "whether people leave through it in an emergency (now yes)" in event.sentence


def test_what_changes_nothing_leaves_no_trace(cast: Cast, door: Door, space: Space) -> None:
    door.spaces.add(space)
    services.change_door(
        actor=cast.locksmith, door=door, number="101", floor=door.floor, spaces=[space], is_egress=False
    )
    assert not history_of(door)


def test_only_named_facts_are_written(cast: Cast, door: Door) -> None:
    """A page that was opened long ago takes nothing back that it does not name."""
    stale = Door.objects.with_places().get(pk=door.pk)
    services.change_door(actor=cast.administrator, door=door, is_fire_rated=True)
    services.change_door(actor=cast.administrator, door=stale, name="Library")
    fresh = Door.objects.get(pk=door.pk)
    assert (fresh.is_fire_rated, fresh.name) == (True, "Library")


def test_a_note_is_kept_out_of_history(cast: Cast, door: Door) -> None:
    services.change_door(actor=cast.locksmith, door=door, note="Ring before you come.")
    event = history_of(door)[0]
    assert event.detail == {"before": {"note": None}, "after": {"note": None}}


def test_spaces_are_named_in_history(cast: Cast, door: Door, space: Space) -> None:
    services.change_door(actor=cast.locksmith, door=door, spaces=[space])
    assert list(door.spaces.all()) == [space]
    assert history_of(door)[0].detail["after"] == {"spaces": [{"id": str(space.pk), "name": "1.01 Hall"}]}


def doubles(cast: Cast, door: Door, space: Space) -> dict[str, Callable[[], object]]:
    """Each kind, about to take what its neighbour is called."""
    who, north, floor = cast.administrator, cast.north, door.floor
    next_door = factories.make_door(floor=floor, number="102")
    next_space = Space.objects.create(floor=floor, number="1.02")
    above = services.add_floor(actor=who, building=door.building, label="Top", level=9)
    annex = services.add_building(actor=who, site=north, code="ZZ", name="Last")
    factories.make_housing(door=door, label="Upper")
    lower = factories.make_housing(door=door, label="Lower")
    return {
        "door": lambda: services.change_door(actor=who, door=next_door, number="101"),
        "space": lambda: services.change_space(actor=who, space=next_space, number="1.01"),
        "floor": lambda: services.change_floor(actor=who, floor=above, label=floor.label),
        "building": lambda: services.change_building(actor=who, building=annex, code=door.building.code),
        "housing": lambda: services.change_housing(actor=who, housing=lower, label="Upper"),
    }


def test_no_place_takes_the_name_of_its_neighbour(cast: Cast, door: Door, space: Space) -> None:
    for kind, act in doubles(cast, door, space).items():
        with pytest.raises(Refused, match="already") as refused:
            act()
        assert refused.value.message, kind


def test_a_door_goes_to_another_floor_of_its_site_and_no_further(cast: Cast, door: Door) -> None:
    there, abroad = factories.make_floor(cast.north), factories.make_floor(cast.south)
    assert services.change_door(actor=cast.locksmith, door=door, floor=there).building == there.building
    with pytest.raises(Refused, match="another site"):
        services.change_door(actor=cast.locksmith, door=door, floor=abroad)


def test_a_number_taken_on_the_other_floor_keeps_a_door_where_it_is(cast: Cast, door: Door) -> None:
    there = factories.make_door(cast.north, number="101").floor
    with pytest.raises(Refused, match="choose another number"):
        services.change_door(actor=cast.locksmith, door=door, floor=there)


def test_spaces_of_another_site_are_refused(cast: Cast, door: Door) -> None:
    abroad = Space.objects.create(floor=factories.make_floor(cast.south), number="9")
    with pytest.raises(Refused, match="another site"):
        services.change_door(actor=cast.locksmith, door=door, spaces=[abroad])
    with pytest.raises(Refused, match="another site"):
        services.add_door(actor=cast.locksmith, floor=door.floor, number="7", spaces=[abroad])


def test_what_fits_a_housing_changes_only_while_it_is_empty(cast: Cast, door: Door) -> None:
    housing = factories.make_housing(door=door)
    system = factories.make_system(cast.north, actor=cast.locksmith)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    services.change_housing(actor=cast.locksmith, housing=housing, construction="ordinary")
    factories.install(core, housing)
    with pytest.raises(Refused, match="swap order"):
        services.change_housing(actor=cast.locksmith, housing=housing, construction="small-format")
    assert Housing.objects.get(pk=housing.pk).construction == "ordinary"


def test_what_was_removed_meanwhile_is_not_found(cast: Cast, door: Door) -> None:
    gone = Door.objects.with_places().get(pk=door.pk)
    door.delete()
    with pytest.raises(Http404):
        services.change_door(actor=cast.locksmith, door=gone, name="Library")
