"""A house as a locksmith finds it: orders of several kinds, doors with cautions, cores, and people to sign in."""

from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.places.models import Door
from tests import factories
from tests.cast import Cast, gather
from tests.keyctl.field.fieldroom import core_in, make_core


@dataclass(frozen=True)
class Fieldwork:
    cast: Cast
    door: Door
    inside: Core
    spare: Core
    swap: OrderLine
    look_over: OrderLine


def build_fieldwork() -> Fieldwork:
    cast = gather()
    by, north = cast.locksmith, cast.north
    floor = factories.make_floor(north)
    facts = {"name": "Stair hall", "note": "Ring at the porter's first."}
    door = factories.make_door(floor=floor, is_egress=True, is_fire_rated=True, **facts)
    plain = factories.make_door(floor=floor, name="Store")
    housing, other = (factories.make_housing(door=each) for each in (door, plain))
    inside, spare = core_in(housing, by=by), make_core(north, by=by)
    core_in(other, by=by)
    due = timezone.localdate() - timedelta(days=1)
    swap = orders.open_swap_order(actor=by, site=north, title="Stairs", housings=[housing, other], due_on=due)
    look_over = orders.open_inspect_order(actor=by, site=north, title="Escape doors", doors=[door])
    return Fieldwork(
        cast=cast,
        door=door,
        inside=inside,
        spare=spare,
        swap=swap.lines.get(housing=housing),
        look_over=look_over.lines.get(),
    )
