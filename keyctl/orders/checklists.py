"""What is looked at and tried at a door, by what the door is and what the order is for.

The points are common practice. They stand in for no inspection that a code, a listing of a fire door or an
authority asks for: those come first, and so does the judgement of a licensed locksmith.
"""

from dataclasses import dataclass

from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing


@dataclass(frozen=True)
class Point:
    """``remedy`` is the work that a bad one asks for."""

    key: str
    label: str
    remedy: str = ""


SEATED = Point("seated", "The core is seated and flush, and does not move when it is pulled", "swap")
TURNS = Point("turns", "The key goes in, turns both ways and comes out smoothly", "swap")
LATCHES = Point("latches", "The latch catches, and the bolt throws and draws back fully")
CLOSES = Point("closes", "The lid or shackle closes, and the lock holds it")
WAY_OUT = Point("way_out", "From inside it opens with one motion, without a key, tool or special knowledge")
FIRE_CLOSES = Point("fire_closes", "Let go from any angle, the door closes and latches by itself")
FIRE_LABEL = Point("fire_label", "The fire label on door and frame is there and legible")
REACHABLE = Point("reachable", "The hardware is unobstructed, in reach and works without a tight grip")

# After a door was kept shut for a time.
OWN_CORE = Point("own_core", "The door's own core is back, seated and flush", "swap")
OWN_KEY = Point("own_key", "Its own key turns and comes out; the key of the temporary core does not turn")
FREE = Point("free", "Nobody is left behind the door, and who asked was told that it is open again")

# No door is given back without these, whatever is said not to be there.
NEEDED_TO_GIVE_BACK = frozenset({OWN_CORE.key, OWN_KEY.key, FREE.key, WAY_OUT.key})

WITHOUT_LATCH = frozenset({Housing.Kind.PADLOCK, Housing.Kind.CABINET, Housing.Kind.SWITCH})


def points_of(line: OrderLine) -> tuple[Point, ...]:
    """None where a line has no checklist, or no door."""
    door = line.door_at
    if door is None:
        return ()
    if line.order.kind == WorkOrder.Kind.INSPECT:
        return inspection_of(door)
    if line.order.kind == WorkOrder.Kind.LOCK_OUT:
        return after_lock_out(door)
    return ()


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
