"""What is looked at and tried at a door, by what the door is and what the order is for.

The points are common practice. They stand in for no inspection that a code, a listing of a fire door or an
authority asks for: those come first, and so does the judgement of a licensed locksmith.
"""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy

from keyctl.lib.language import Text
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing


@dataclass(frozen=True)
class Point:
    """``remedy`` is the work that a bad one asks for."""

    key: str
    label: Text
    remedy: str = ""


SEATED = Point(
    "seated", gettext_lazy("The core is seated and flush, and does not move when it is pulled"), "swap"
)
TURNS = Point("turns", gettext_lazy("The key goes in, turns both ways and comes out smoothly"), "swap")
LATCHES = Point("latches", gettext_lazy("The latch catches, and the bolt throws and draws back fully"))
CLOSES = Point("closes", gettext_lazy("The lid or shackle closes, and the lock holds it"))
WAY_OUT = Point(
    "way_out", gettext_lazy("From inside it opens with one motion, without a key, tool or special knowledge")
)
FIRE_CLOSES = Point(
    "fire_closes", gettext_lazy("Let go from any angle, the door closes and latches by itself")
)
FIRE_LABEL = Point("fire_label", gettext_lazy("The fire label on door and frame is there and legible"))
REACHABLE = Point(
    "reachable", gettext_lazy("The hardware is unobstructed, in reach and works without a tight grip")
)

# After a door was kept shut for a time.
OWN_CORE = Point("own_core", gettext_lazy("The door's own core is back, seated and flush"), "swap")
OWN_KEY = Point(
    "own_key", gettext_lazy("Its own key turns and comes out; the key of the temporary core does not turn")
)
FREE = Point(
    "free", gettext_lazy("Nobody is left behind the door, and who asked was told that it is open again")
)

# No door is given back without these, whatever is said not to be there.
NEEDED_TO_GIVE_BACK = frozenset({OWN_CORE.key, OWN_KEY.key, FREE.key, WAY_OUT.key})

WITHOUT_LATCH = frozenset({Housing.Kind.PADLOCK, Housing.Kind.CABINET, Housing.Kind.SWITCH})


def has_points(order: WorkOrder) -> bool:
    """Whether lines of such an order have a checklist."""
    return order.kind in {WorkOrder.Kind.INSPECT, WorkOrder.Kind.LOCK_OUT}


def points_of(line: OrderLine) -> tuple[Point, ...]:
    """None where a line has no checklist, or no door."""
    return points_at(line.door_at, line.order) if has_points(line.order) else ()


def points_at(door: Door | None, order: WorkOrder) -> tuple[Point, ...]:
    if door is None or not has_points(order):
        return ()
    return inspection_of(door) if order.kind == WorkOrder.Kind.INSPECT else after_lock_out(door)


def is_needed(line: OrderLine, point: Point) -> bool:
    """Whether nobody says of it that it does not apply."""
    return line.keeps_shut and point.key in NEEDED_TO_GIVE_BACK


def inspection_of(door: Door) -> tuple[Point, ...]:
    if _is_body_only(door):
        return (SEATED, TURNS, CLOSES, REACHABLE)
    return (SEATED, TURNS, LATCHES, *_of_the_opening(door), REACHABLE)


def after_lock_out(door: Door) -> tuple[Point, ...]:
    return (OWN_CORE, OWN_KEY, LATCHES, *_of_the_opening(door), FREE)


def _of_the_opening(door: Door) -> tuple[Point, ...]:
    way_out = (WAY_OUT,) if door.is_egress else ()
    return (*way_out, FIRE_CLOSES, FIRE_LABEL) if door.is_fire_rated else way_out


def _is_body_only(door: Door) -> bool:
    """A padlock, a cabinet or a switch that stands as an opening of its own."""
    kinds = {housing.kind for housing in door.housings.all()}
    return bool(kinds) and kinds <= WITHOUT_LATCH and not (door.is_egress or door.is_fire_rated)
