"""Twenty rows cost as many queries as two, and one thing among many as one among few."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Identifier
from keyctl.systems.models import KeySystem
from tests.api.client import Api
from tests.api.estate import make_swap
from tests.cast import Cast
from tests.factories import install, make_core, make_door, make_floor, make_housing, make_space, make_system

pytestmark = pytest.mark.usefixtures("unmetered")

LISTS = ["sites/", "buildings/", "floors/", "spaces/", "doors/", "housings/", "cores/", "work-orders/"]


def grow(cast: Cast, system: KeySystem, count: int) -> None:
    """So many doors more in buildings of their own, each with two spaces and what another program calls it,
    a core and an order of two lines."""
    for _ in range(count):
        housing = make_housing(cast.north)
        door = housing.door
        for place, kind in ((door, "door"), (door.floor, "floor"), (door.building, "building")):
            name = {"source": "GlobalId", "value": str(place.pk), "kind": kind, kind: place}
            Identifier.objects.create(site=cast.north, **name)
        door.spaces.add(make_space(door.floor), make_space(door.floor))
        core = make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
        install(core, housing)
        order = make_swap(cast.north, housing, cast.locksmith)
        OrderLine.objects.create(order=order, ordinal=2, housing=make_housing(cast.north), core=core)


def queries(api: Api, path: str, **query: int) -> int:
    api.get("sites/")  # notes the token's use, once a minute, however long the rest takes
    with CaptureQueriesContext(connection) as captured:
        assert api.get(path, **query).status_code == 200
    return len(captured)


def test_lists_and_things_of_twenty_cost_as_much_as_of_two(api: Api, cast: Cast) -> None:
    system = make_system(cast.north, actor=cast.locksmith)
    grow(cast, system, 2)
    things = [f"{path}{api.ids(path)[0]}/" for path in LISTS]
    few = {path: queries(api, path, limit=200) for path in LISTS}
    one = {path: queries(api, path) for path in things}
    grow(cast, system, 18)
    assert {path: queries(api, path, limit=200) for path in LISTS} == few
    assert {path: queries(api, path) for path in things} == one
    assert max(*few.values(), *one.values()) <= 8
    assert {path: len(api.ids(path, limit=200)) for path in LISTS[1:]} == {
        "buildings/": 40,
        "floors/": 40,
        "spaces/": 40,
        "doors/": 40,
        "housings/": 40,
        "cores/": 20,
        "work-orders/": 20,
    }


@pytest.fixture
def hung(cast: Cast) -> Callable[[Door, int], None]:
    """Hangs so many housings on a door, each with a pinned core."""
    system = make_system(cast.north, actor=cast.locksmith)

    def add(door: Door, count: int) -> None:
        for nth in range(count):
            housing = make_housing(door=door, label=f"Lock {door.housings.count()}-{nth}")
            install(make_core(actor=cast.locksmith, site=cast.north, system=system), housing)

    return add


def test_the_openers_of_twenty_locks_cost_as_much_as_of_two(
    api: Api, cast: Cast, hung: Callable[[Door, int], None]
) -> None:
    door = make_door(floor=make_floor(cast.north))
    hung(door, 2)
    few = queries(api, f"doors/{door.pk}/openers/")
    hung(door, 18)
    assert queries(api, f"doors/{door.pk}/openers/") == few
