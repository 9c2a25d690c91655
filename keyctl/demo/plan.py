"""The shape of the invented estate, worked out from a number of doors and a seed."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from random import Random

from django.utils import timezone

from keyctl.demo import names

FEWEST_DOORS = 600
FLOORS = 3
# One in this many doors is a plant room; the buildings take turns in what its lock is.
PLANT_ROOM_EVERY = 12
PLANT_ROOM_FORMATS = ("fixed-6", "large-sleeve-34", "large-sleeve-2345", "full-tip-6", "padlock-screw-6")
FOUR_LEVELS, THREE_LEVELS = "small-a2-7", "small-a4-7"
DOORS_PER_BUILDING_AT_SCALE = 100
DOORS_PER_SITE_AT_SCALE = 5000
BUILDINGS_PER_SYSTEM = 16
# MACS leaves less room under some masters than sixteen keys.
PLANT_BUILDINGS_PER_SYSTEM = 6
SPARE_CHANGES = 4
FEWEST_COPIES = 900
# History reaches back so far.
HISTORY_DAYS = 730
# Fresh cores on the bench: one pin order takes half of them and is finished, another waits with the rest.
FRESH_CORES = 8


@dataclass(frozen=True)
class BuildingPlan:
    """How many doors stand on each floor; the format that most of them take."""

    number: int
    site: int
    format_id: str
    doors_on_floor: tuple[int, ...]

    @property
    def plant_format_id(self) -> str:
        return PLANT_ROOM_FORMATS[self.number % len(PLANT_ROOM_FORMATS)]

    @property
    def doors(self) -> int:
        return sum(self.doors_on_floor)

    @property
    def code(self) -> str:
        turn, place = divmod(self.number, len(names.BUILDINGS))
        return f"{names.BUILDINGS[place][0]}{turn + 1 if turn else ''}"


@dataclass(frozen=True)
class SystemPlan:
    """A key system and the buildings that it serves, whose ordinary doors or whose plant rooms."""

    code: str
    format_id: str
    is_plant: bool
    buildings: tuple[BuildingPlan, ...]

    @property
    def doors(self) -> int:
        small, plant = 0, 0
        for doors in (doors for each in self.buildings for doors in each.doors_on_floor):
            plant += doors // PLANT_ROOM_EVERY
            small += doors - doors // PLANT_ROOM_EVERY
        return plant if self.is_plant else small


@dataclass(frozen=True)
class EstatePlan:
    doors: int
    seed: int
    sites: int
    buildings: tuple[BuildingPlan, ...] = field(repr=False)

    @property
    def spare_cores(self) -> int:
        return max(40, self.doors // 15)

    @property
    def copies(self) -> int:
        return max(FEWEST_COPIES, self.doors * 6 // 5)

    @property
    def holders(self) -> int:
        return self.doors // 10

    @cached_property
    def systems(self) -> tuple[SystemPlan, ...]:
        """Four levels on A2, three on A4, and a small one for every few buildings' plant rooms."""
        made: list[SystemPlan] = []
        for format_id, prefix in ((FOUR_LEVELS, "GGM"), (THREE_LEVELS, "GM")):
            chosen = [each for each in self.buildings if each.format_id == format_id]
            groups = _in_groups(chosen, BUILDINGS_PER_SYSTEM)
            made += [SystemPlan(f"{prefix}{nth}", format_id, False, group) for nth, group in groups]
        for letter, format_id in zip("CDEFG", PLANT_ROOM_FORMATS, strict=True):
            chosen = [each for each in self.buildings if each.plant_format_id == format_id]
            groups = _in_groups(chosen, PLANT_BUILDINGS_PER_SYSTEM)
            made += [SystemPlan(f"PLANT-{letter}{nth}", format_id, True, group) for nth, group in groups]
        return tuple(made)

    def spares_of(self, nth: int) -> int:
        """The systems share the spare cores."""
        return share(self.spare_cores, nth, len(self.systems))

    def doors_at(self, site: int) -> int:
        return sum(each.doors for each in self.buildings if each.site == site)

    def copies_at(self, site: int) -> int:
        """By its doors, so that together they are as many as planned."""
        before = sum(self.doors_at(each) for each in range(site))
        upto = before + self.doors_at(site)
        return self.copies * upto // self.doors - self.copies * before // self.doors


@dataclass(frozen=True)
class Build:
    """A plan that is carried out, and when that was begun: whoever goes on with it tells the same two years.

    Each part draws from a source of chance of its own, so that a stop before it changes nothing in it.
    """

    plan: EstatePlan
    begun_at: datetime

    def chance(self, part: str) -> Random:
        return Random(f"{self.plan.seed} {part}")

    @property
    def today(self) -> datetime:
        """Its first moment: at which hour the estate was begun changes none of its days."""
        return timezone.localtime(self.begun_at).replace(hour=0, minute=0, second=0, microsecond=0)


def plan_estate(doors: int, seed: int) -> EstatePlan:
    """At least 3 sites, 12 buildings and 600 doors; every third site is pinned to A4, the others to A2."""
    doors = max(doors, FEWEST_DOORS)
    sites = max(3, doors // DOORS_PER_SITE_AT_SCALE)
    count = max(12, doors // DOORS_PER_BUILDING_AT_SCALE)
    buildings = tuple(
        _building(number, number * sites // count, share(doors, number, count)) for number in range(count)
    )
    return EstatePlan(doors=doors, seed=seed, sites=sites, buildings=buildings)


def share(total: int, nth: int, among: int) -> int:
    """What the nth gets where so many share: the first ones take what is left over.

    >>> [share(8, nth, 3) for nth in range(3)]
    [3, 3, 2]
    """
    return total // among + (nth < total % among)


def _building(number: int, site: int, doors: int) -> BuildingPlan:
    on_floor = tuple(share(doors, floor, FLOORS) for floor in range(FLOORS))
    return BuildingPlan(number, site, THREE_LEVELS if site % 3 == 2 else FOUR_LEVELS, on_floor)


def _in_groups(buildings: Sequence[BuildingPlan], size: int) -> list[tuple[int, tuple[BuildingPlan, ...]]]:
    starts = range(0, len(buildings), size)
    return [(nth, tuple(buildings[start : start + size])) for nth, start in enumerate(starts, 1)]
