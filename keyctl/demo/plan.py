"""The shape of the invented estate, worked out from a number of doors and a seed."""

from dataclasses import dataclass, field

FEWEST_DOORS = 600
FLOORS = 3
# One in this many doors is a plant room; the buildings take turns in what its lock is.
PLANT_ROOM_EVERY = 12
PLANT_ROOM_FORMATS = ("fixed-6", "large-sleeve-34", "large-sleeve-2345", "full-tip-6", "padlock-screw-6")
DOORS_PER_BUILDING_AT_SCALE = 100
DOORS_PER_SITE_AT_SCALE = 5000
BUILDINGS_PER_SYSTEM = 16
SPARE_CHANGES = 4
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
        return self.doors * 3 // 2

    @property
    def holders(self) -> int:
        return self.doors // 10


def plan_estate(doors: int, seed: int) -> EstatePlan:
    """At least 3 sites, 12 buildings and 600 doors; every third site is pinned to A4, the others to A2."""
    doors = max(doors, FEWEST_DOORS)
    sites = max(3, doors // DOORS_PER_SITE_AT_SCALE)
    count = max(12, doors // DOORS_PER_BUILDING_AT_SCALE)
    shares = [doors // count + (number < doors % count) for number in range(count)]
    buildings = tuple(
        _building(number, number * sites // count, share) for number, share in enumerate(shares)
    )
    return EstatePlan(doors=doors, seed=seed, sites=sites, buildings=buildings)


def _building(number: int, site: int, doors: int) -> BuildingPlan:
    on_floor = tuple(doors // FLOORS + (floor < doors % FLOORS) for floor in range(FLOORS))
    return BuildingPlan(number, site, "small-a4-7" if site % 3 == 2 else "small-a2-7", on_floor)
