"""History is kept in one language: whoever did something, and however their pages speak.

What is expected is written down here in English; the German catalogue is what must not show.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import translation

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import move_core
from keyctl.places.roles import Role
from keyctl.places.services import add_housing, change_door, change_housing, end_role, give_role
from keyctl.stock.models import PinBin, PinRole
from keyctl.stock.services import move_pins
from tests import factories
from tests.cast import Cast
from tests.keyctl.orders import workshop


@pytest.fixture(autouse=True)
def _in_german() -> Iterator[None]:
    with translation.override("de"):
        yield


def last() -> str:
    return Event.objects.latest("pk").sentence


def test_roles_are_told_in_english(cast: Cast) -> None:
    facts: Any = {"actor": cast.administrator, "site": cast.north, "username": cast.desk.username}
    membership = give_role(**facts, role=Role.OFFICER)
    assert last() == f"made {cast.desk} security officer at {cast.north}"
    end_role(actor=cast.administrator, membership=membership)
    assert last() == f"ended that {cast.desk} is security officer at {cast.north}"


def test_what_a_door_is_is_told_in_english(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    change_door(actor=cast.locksmith, door=door, is_egress=True, is_fire_rated=True)
    assert "whether people leave through it in an emergency (now yes)" in last()
    assert "whether it is fire-rated (now yes)" in last()
    kind: Any = {"kind": "padlock", "construction": "small-format", "label": ""}
    housing = add_housing(actor=cast.locksmith, door=door, **kind)
    assert last() == f"added a housing: {door}, padlock"
    change_housing(actor=cast.locksmith, housing=housing, kind="rim")
    assert last() == f"changed the housing {door}, padlock: kind"


def test_where_a_core_is_put_is_told_in_english(cast: Cast) -> None:
    shop = workshop.set_up(cast)
    core, door = shop.core(), factories.make_door(cast.north)
    move_core(actor=cast.locksmith, core=core, version=core.version, place=Core.Place.SHELF)
    assert last() == f"put core {core} on the shelf"
    housing = add_housing(actor=cast.locksmith, door=door, kind="rim", construction="small-format", label="")
    line = shop.swap_line(housing, core)
    assert last() == f"chose core {core} for {door}, rim cylinder in order {line.order.number}"


def test_what_is_done_with_pins_is_told_in_english(cast: Cast) -> None:
    facts: Any = {"family": "a2", "role": PinRole.MASTER, "size": 4, "count": 9}
    pins = PinBin.objects.create(site=cast.north, **facts)
    move_pins(actor=cast.locksmith, bin=pins, reason="returned", number=3)
    with translation.override("en-gb"):
        name = str(PinRole.MASTER.label).lower()
    assert last() == f"put back 3 pins: {name} of size 4 at {cast.north}"
