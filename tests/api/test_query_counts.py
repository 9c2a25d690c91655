"""Twenty rows cost as many queries as two."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.orders.models import OrderLine
from keyctl.places.models import Door
from tests.api.client import Api
from tests.api.estate import make_swap
from tests.cast import Cast
from tests.factories import install, make_core, make_door, make_floor, make_housing, make_system

Grow = Callable[[int], None]
LISTS = ["sites/", "buildings/", "doors/", "housings/", "cores/", "work-orders/"]


@pytest.fixture
def grow(cast: Cast) -> Grow:
    """Adds so many doors in buildings of their own, each with a core and an order of two lines."""
    system = make_system(cast.north, actor=cast.locksmith)

    def add(count: int) -> None:
        for _ in range(count):
            housing = make_housing(cast.north)
            core = install(
                make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False), housing
            )
            order = make_swap(cast.north, housing, cast.locksmith)
            other = make_housing(cast.north)
            OrderLine.objects.create(order=order, ordinal=2, housing=other, core=core)

    return add


def queries(api: Api, path: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert api.get(path, **({} if "openers" in path else {"limit": 200})).status_code == 200
    return len(captured)


@pytest.mark.parametrize("path", LISTS)
def test_a_list_of_twenty_costs_as_much_as_one_of_two(api: Api, grow: Grow, path: str) -> None:
    grow(2)
    api.get("sites/")  # notes the token's use, once a minute
    few = queries(api, path)
    grow(18)
    assert queries(api, path) == few
    assert few <= 8


def test_the_lists_really_grew(api: Api, grow: Grow) -> None:
    grow(20)
    assert len(api.ids("cores/")) == 20
    assert len(api.ids("work-orders/")) == 20


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
    api.get("sites/")
    few = queries(api, f"doors/{door.pk}/openers/")
    hung(door, 18)
    assert queries(api, f"doors/{door.pk}/openers/") == few
