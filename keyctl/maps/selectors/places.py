"""The floors of buildings with their counts, and the doors of a floor in the order of their numbers."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from keyctl.maps.questions import Question, State
from keyctl.maps.selectors.parts import Near
from keyctl.maps.selectors.states import counts_by_floor, doors_with_state
from keyctl.places.models import Building, Door, Floor, Site, Space


@dataclass(frozen=True)
class FloorCounts:
    floor: Floor
    counts: Counter[str]

    @property
    def doors(self) -> int:
        return sum(self.counts.values())


@dataclass(frozen=True)
class BuildingCounts:
    """Its floors from the lowest to the highest."""

    building: Building
    floors: list[FloorCounts] = field(default_factory=list)


@dataclass(frozen=True)
class MappedDoor:
    pk: UUID
    floor: UUID
    number: str
    name: str
    is_egress: bool
    is_fire_rated: bool
    state: State


@dataclass(frozen=True)
class Group:
    """Doors side by side: those of one space, or those that share none with another door of the floor."""

    words: str
    doors: list[MappedDoor]


def floors_of(question: Question, site: Site, buildings: Sequence[Building]) -> list[BuildingCounts]:
    """In two queries, whatever the buildings hold."""
    counted = counts_by_floor(question, site, buildings)
    found = {building.pk: BuildingCounts(building) for building in buildings}
    floors = Floor.objects.filter(building__in=list(found)).order_by("level", "label")
    for floor in floors:
        found[floor.building_id].floors.append(FloorCounts(floor, counted.get(floor.pk, Counter())))
    return list(found.values())


def doors_on(question: Question, site: Site, near: Near) -> list[MappedDoor]:
    """In the order of their numbers."""
    doors = Door.objects.filter(**near).order_by("number", "pk")
    rows: Any = doors_with_state(question, site, doors, near).values_list(
        "pk", "floor", "number", "name", "is_egress", "is_fire_rated", "state"
    )
    return [
        MappedDoor(pk, floor, number, name, is_egress, is_fire_rated, question.state(code))
        for pk, floor, number, name, is_egress, is_fire_rated, code in rows
    ]


def grouped(doors: Sequence[MappedDoor]) -> list[Group]:
    """A space that several of the doors lead to is a group; of several such spaces the one with the fewest.

    A corridor that every door opens on tells nothing, so all doors together are no group.
    """
    spaces = _spaces_of(doors)
    sizes = Counter(space for found in spaces.values() for space in found)
    groups: dict[str, list[MappedDoor]] = {}
    for door in doors:
        shared = [space for space in spaces.get(door.pk, ()) if 1 < sizes[space] < len(doors)]
        groups.setdefault(min(shared, key=lambda each: (sizes[each], each), default=""), []).append(door)
    return [Group(words, members) for words, members in groups.items()]


def _spaces_of(doors: Sequence[MappedDoor]) -> dict[UUID, list[str]]:
    """By door, the spaces that it joins, in words."""
    found: dict[UUID, list[str]] = {}
    rows = Space.doors.through.objects.filter(door__in=[door.pk for door in doors])
    for door, number, name in rows.values_list("door", "space__number", "space__name"):
        found.setdefault(door, []).append(f"{number} {name}".strip())
    return found


def size_of(building: Building) -> int:
    return Door.objects.filter(floor__building=building).count()
