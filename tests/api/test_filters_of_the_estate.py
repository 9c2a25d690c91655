"""Each filter of the estate's lists finds what it names and leaves the rest out."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from keyctl.api.views.base import Resource
from keyctl.api.views.cores import Cores
from keyctl.api.views.doors import Doors, Housings
from keyctl.api.views.places import Buildings, Floors, Sites, Spaces
from keyctl.cores.models import Core
from keyctl.lib.tags import grouped
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Membership, Site, Space
from keyctl.places.roles import Role
from keyctl.systems.models import KeySystem
from tests.api.client import Api
from tests.cast import Cast
from tests.factories import install, make_core, make_door, make_floor, make_housing, make_space, make_system


@dataclass(frozen=True)
class Wing:
    """One of each kind of place, with a core."""

    building: Building
    floor: Floor
    space: Space
    door: Door
    housing: Housing
    core: Core

    @property
    def site(self) -> Site:
        return self.building.site


def make_wing(site: Site, system: KeySystem, cast: Cast, name: str, level: int, **facts: Any) -> Wing:
    building = Building.objects.create(site=site, code=name, name=f"House {name}")
    floor = make_floor(building=building)
    Floor.objects.filter(pk=floor.pk).update(level=level)
    door = make_door(floor=floor, number=f"{name}-1", name=f"Room {name}", **facts)
    space = make_space(floor, number=f"{name}-S", name=f"Space {name}")
    door.spaces.add(space)
    housing = make_housing(door=door, kind="rim" if level else "mortise")
    core = make_core(actor=cast.locksmith, site=site, system=system, pinned=False)
    for kind, place in (("building", building), ("floor", floor), ("space", space), ("door", door)):
        Identifier.objects.create(
            site=site, source="GlobalId", kind=kind, value=f"{name}-{kind}", **{kind: place}
        )
    return Wing(building, floor, space, door, housing, core)


@pytest.fixture
def wings(cast: Cast) -> tuple[Wing, Wing]:
    """What is looked for, at the north site; and what differs from it in each fact, at the south site."""
    Membership.objects.create(user=cast.locksmith, site=cast.south, role=Role.LOCKSMITH)
    north = make_system(cast.north, actor=cast.locksmith, code="KS-N")
    south = make_system(cast.south, actor=cast.locksmith, code="KS-S")
    facts: dict[str, Any] = {"is_egress": True, "is_fire_rated": True, "hardware_set": "HW-1"}
    first = make_wing(cast.north, north, cast, "WEST", 1, door_class="critical", **facts)
    second = make_wing(cast.south, south, cast, "EAST", 0)
    install(first.core, first.housing)
    Core.objects.filter(pk=first.core.pk).update(disputed_at="2030-01-01T00:00Z", disputed_over="case")
    second.core.keyings.update(symbol=south.symbols.get(symbol="AA2"))
    Core.objects.filter(pk=second.core.pk).update(construction="ordinary", format_id="other")
    Housing.objects.filter(pk=second.housing.pk).update(construction="ordinary")
    return first, second


Asked = Callable[[Wing], object]
FILTERS: dict[type[Resource], dict[str, Asked]] = {
    Sites: {"code": lambda wing: wing.site.code, "q": lambda wing: wing.site.name[1:5].upper()},
    Buildings: {
        "site": lambda wing: wing.site.pk,
        "code": lambda wing: wing.building.code,
        "q": lambda wing: wing.building.name[-3:].lower(),
        "global_id": lambda wing: f"{wing.building.code}-building",
    },
    Floors: {
        "site": lambda wing: wing.site.pk,
        "building": lambda wing: wing.building.pk,
        "level": lambda wing: Floor.objects.get(pk=wing.floor.pk).level,
        "global_id": lambda wing: f"{wing.building.code}-floor",
    },
    Spaces: {
        "site": lambda wing: wing.site.pk,
        "building": lambda wing: wing.building.pk,
        "floor": lambda wing: wing.floor.pk,
        "door": lambda wing: wing.door.pk,
        "number": lambda wing: wing.space.number,
        "q": lambda wing: wing.space.name.upper(),
        "global_id": lambda wing: f"{wing.building.code}-space",
    },
    Doors: {
        "site": lambda wing: wing.site.pk,
        "building": lambda wing: wing.building.pk,
        "floor": lambda wing: wing.floor.pk,
        "space": lambda wing: wing.space.pk,
        "number": lambda wing: wing.door.number,
        "q": lambda wing: wing.door.name.lower(),
        "door_class": lambda wing: wing.door.door_class,
        "is_egress": lambda wing: str(wing.door.is_egress).lower(),
        "is_fire_rated": lambda wing: str(wing.door.is_fire_rated).lower(),
        "hardware_set": lambda wing: wing.door.hardware_set or "HW-2",
        "system": lambda wing: wing.core.system.code if wing.core.system else "",
        "tag": lambda wing: grouped(wing.door.tag).lower(),
        "global_id": lambda wing: f"{wing.building.code}-door",
    },
    Housings: {
        "site": lambda wing: wing.site.pk,
        "building": lambda wing: wing.building.pk,
        "door": lambda wing: wing.door.pk,
        "kind": lambda wing: wing.housing.kind,
        "construction": lambda wing: Housing.objects.get(pk=wing.housing.pk).construction,
        "is_empty": lambda wing: str(not wing.housing.cores.exists()).lower(),
    },
    Cores: {
        "site": lambda wing: wing.site.pk,
        "system": lambda wing: wing.core.system.code if wing.core.system else "",
        "keyed_to": lambda wing: wing.core.keyed_to.get().symbol,
        "place": lambda wing: Core.objects.get(pk=wing.core.pk).place,
        "building": lambda wing: wing.building.pk,
        "door": lambda wing: wing.door.pk,
        "housing": lambda wing: wing.housing.pk,
        "tag": lambda wing: grouped(wing.core.tag),
        "format": lambda wing: Core.objects.get(pk=wing.core.pk).format_id,
        "is_pinned": lambda wing: str(wing.core.pinned_at is not None).lower(),
        "is_disputed": lambda wing: str(Core.objects.get(pk=wing.core.pk).disputed_at is not None).lower(),
    },
}
# One of the two is there only where it is looked for; the other has no answer of its own.
OF_THE_FIRST_ALONE = {"hardware_set"}
IN_NO_DOOR = {(Cores, "building"), (Cores, "door"), (Cores, "housing"), (Doors, "system")}
ALIKE = {(Cores, "is_pinned")}


def attribute(view: type[Resource]) -> str:
    return view.__name__.lower().removesuffix("s")


def test_each_filter_finds_its_own(both: Api, wings: tuple[Wing, Wing]) -> None:
    """Both are visible to this program: what narrows a list is the filter alone."""
    for view, filters in FILTERS.items():
        ids = [str(getattr(wing, attribute(view)).pk) for wing in wings]
        path = f"{view.__name__.lower()}/"
        assert set(both.ids(path)) == set(ids)
        for name, asked in filters.items():
            found = [set(both.ids(path, **{name: asked(wing)})) for wing in wings]
            assert found == expected(view, name, ids), (path, name)


def expected(view: type[Resource], name: str, ids: list[str]) -> list[set[str]]:
    if (view, name) in ALIKE:
        return [set(ids)] * 2
    alone = (view, name) in IN_NO_DOOR or name in OF_THE_FIRST_ALONE
    return [{ids[0]}, set() if alone else {ids[1]}]


def test_no_filter_is_left_untried() -> None:
    for view, filters in FILTERS.items():
        assert set(view.filters_class().fields) == set(filters), view


def test_what_is_pinned_is_told_apart(both: Api, cast: Cast, wings: tuple[Wing, Wing]) -> None:
    first, second = wings
    pinned = {"pinning": b"sealed", "pinned_at": "2030-01-01T00:00Z", "pinned_by": cast.locksmith}
    Core.objects.filter(pk=first.core.pk).update(**pinned)
    assert both.ids("cores/", is_pinned="true") == [str(first.core.pk)]
    assert both.ids("cores/", is_pinned="false") == [str(second.core.pk)]


def test_a_door_with_two_cores_of_a_system_is_one_door(
    both: Api, cast: Cast, wings: tuple[Wing, Wing]
) -> None:
    first, _ = wings
    assert first.core.system
    other = make_core(actor=cast.locksmith, site=cast.north, system=first.core.system, pinned=False)
    install(other, make_housing(door=first.door, label="Second"))
    assert both.ids("doors/", system="KS-N") == [str(first.door.pk)]
    assert both.ids("doors/", global_id="WEST-door", q="room") == [str(first.door.pk)]


def test_filters_narrow_together(both: Api, wings: tuple[Wing, Wing]) -> None:
    first, second = wings
    assert both.ids("doors/", site=first.site.pk, q="room") == [str(first.door.pk)]
    assert both.ids("doors/", site=first.site.pk, number=second.door.number) == []


def test_an_identifier_of_another_site_finds_nothing(api: Api, wings: tuple[Wing, Wing]) -> None:
    assert api.ids("doors/", global_id="EAST-door") == []
