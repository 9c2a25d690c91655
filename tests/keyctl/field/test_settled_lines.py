"""What a settled case does to the lines that its stories told of: the work was done, so the order ends."""

from typing import Any

import pytest

from keyctl.cores.models import Core
from keyctl.cores.services import Whereabouts
from keyctl.field import services
from keyctl.field.models import ReconcileCase
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.rotations.models import RotationCore, RotationDoor
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, outcomes, tablet_of
from tests.keyctl.field.test_bounds import keep_shut
from tests.keyctl.rotations.yard import Yard

SHELF = Whereabouts("shelf")


@pytest.fixture
def line(cast: Cast, house: House) -> OrderLine:
    order = orders.open_swap_order(
        actor=cast.locksmith, site=cast.north, title="Front door", housings=[house.housing]
    )
    return order.lines.get()


def tell(tablet: Tablet, house: House, line: OrderLine, **facts: Any) -> None:
    """With a version that is past: somebody moved the core and put it back."""
    stale = {"core_in_version": house.spare.version + 1} | facts
    answers = tablet.send(tablet.swapped(house.housing, house.spare, house.inside, line, **stale))
    assert outcomes(answers) == ["accepted_with_conflict"]


def settle(cast: Cast, places: dict[Core, Whereabouts]) -> None:
    case = ReconcileCase.objects.get()
    services.settle_case(actor=cast.locksmith, case=case, places=places, note="Looked at the door")


def as_told(house: House) -> dict[Core, Whereabouts]:
    return {house.spare: Whereabouts("housing", house.housing), house.inside: SHELF}


def test_a_swap_that_is_settled_as_told_ends_its_line(
    cast: Cast, house: House, tablet: Tablet, line: OrderLine
) -> None:
    tell(tablet, house, line)
    settle(cast, as_told(house))
    line = OrderLine.objects.select_related("order").get(pk=line.pk)
    assert (line.state, line.core, line.core_out) == (OrderLine.State.DONE, house.spare, house.inside)
    assert (line.done_by, line.order.state) == (cast.locksmith, WorkOrder.State.DONE)
    assert "Settled in case 1" in line.note


def test_a_swap_that_was_none_stays_to_do(cast: Cast, house: House, tablet: Tablet, line: OrderLine) -> None:
    tell(tablet, house, line)
    settle(cast, {house.spare: SHELF, house.inside: Whereabouts("housing", house.housing)})
    line.refresh_from_db()
    assert line.is_open


def test_without_its_checks_it_stays_to_do(cast: Cast, house: House, tablet: Tablet, line: OrderLine) -> None:
    tell(tablet, house, line, egress_and_latch_tried=False)
    settle(cast, as_told(house))
    line.refresh_from_db()
    assert line.is_open


def test_an_order_that_was_cancelled_meanwhile_stays_so(
    cast: Cast, house: House, tablet: Tablet, line: OrderLine
) -> None:
    tell(tablet, house, line)
    orders.cancel_order(actor=cast.locksmith, order=line.order)
    settle(cast, as_told(house))
    line.refresh_from_db()
    assert line.state == OrderLine.State.CANCELLED


def test_a_door_that_has_its_own_core_again_is_shut_no_more(cast: Cast, house: House, tablet: Tablet) -> None:
    line = keep_shut(cast, house)
    for core in (house.inside, house.spare):
        core.refresh_from_db()
    lifted = tablet.swapped(
        house.housing, house.inside, house.spare, line, core_in_version=house.inside.version - 1
    )
    assert outcomes(tablet.send(lifted)) == ["accepted_with_conflict"]
    settle(cast, {house.inside: Whereabouts("housing", house.housing), house.spare: SHELF})
    line.refresh_from_db()
    assert line.lifted_at
    assert line.is_open


def test_a_rotation_hears_of_a_swap_that_is_settled(cast: Cast) -> None:
    yard, tablet = Yard.of(cast), tablet_of(cast.locksmith, cast.north)
    wave = yard.begin(yard.accepted())
    yard.pin(wave)
    door = wave.doors.to_do()[0]
    line, inside = yard.line(door), door.housing.cores.get()
    assert line.meant
    spare = Core.objects.get(pk=line.meant.pk)
    tell(tablet, House(cast.north, door.housing, inside, spare), line)
    settle(cast, {spare: Whereabouts("housing", door.housing), inside: Whereabouts("bench")})
    door.refresh_from_db()
    assert (door.state, door.core_in, door.core_out) == (RotationDoor.State.SWAPPED, spare, inside)
    went = dict(RotationCore.objects.filter(core__in=[spare, inside]).values_list("core", "state"))
    assert went == {spare.pk: RotationCore.State.IN_DOOR, inside.pk: RotationCore.State.FREE}
