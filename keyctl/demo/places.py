"""Sites, buildings, floors, doors and housings of the invented estate, site by site."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random

from keyctl import engine
from keyctl.demo import names, people
from keyctl.demo.plan import PLANT_ROOM_EVERY, Build, BuildingPlan
from keyctl.places.models import Building, Door, Floor, Housing, Site

BATCH = 2000
SMALL = "small-format"
PLANT_ROOM_LOCKS = {"ordinary": Housing.Kind.RIM, "padlock": Housing.Kind.PADLOCK}
LABELS = ("Ground floor", "First floor", "Second floor")


@dataclass
class BuiltBuilding:
    """A stored building with its doors, sorted by what their housings take."""

    plan: BuildingPlan
    building: Building
    # Per floor, the housings that take small-format cores; and those of the plant rooms.
    small: list[list[Housing]] = field(default_factory=list)
    plant: list[Housing] = field(default_factory=list)


def build_site(build: Build, number: int) -> None:
    rng = build.chance(f"site {number}")
    site = Site.objects.create(**_site(number))
    plans = [each for each in build.plan.buildings if each.site == number]
    buildings = Building.objects.bulk_create([_building(plan, site) for plan in plans])
    floors = {building: _floors(building) for building in buildings}
    Floor.objects.bulk_create([floor for group in floors.values() for floor in group], batch_size=BATCH)
    housings = [
        housing
        for plan, building in zip(plans, buildings, strict=True)
        for housing in _housings(plan, floors[building], rng)
    ]
    Door.objects.bulk_create([housing.door for housing in housings], batch_size=BATCH)
    Housing.objects.bulk_create(housings, batch_size=BATCH)
    people.grant_roles(site, buildings)


def built_buildings(plans: Sequence[BuildingPlan]) -> list[BuiltBuilding]:
    """As they were stored, in the order of their plans, floors and doors."""
    by_floor: dict[str, dict[int, list[Housing]]] = defaultdict(lambda: defaultdict(list))
    rows = Housing.objects.filter(door__floor__building__code__in=[plan.code for plan in plans])
    rows = rows.select_related("door__floor__building__site")
    for housing in rows.order_by("door__floor__level", "door__number"):
        floor = housing.door.floor
        by_floor[floor.building.code][floor.level].append(housing)
    return [_sorted(plan, list(by_floor[plan.code].values())) for plan in plans]


def _sorted(plan: BuildingPlan, floors: list[list[Housing]]) -> BuiltBuilding:
    return BuiltBuilding(
        plan,
        floors[0][0].door.floor.building,
        [[housing for housing in floor if housing.construction == SMALL] for floor in floors],
        [housing for floor in floors for housing in floor if housing.construction != SMALL],
    )


def _site(number: int) -> dict[str, str]:
    turn, place = divmod(number, len(names.SITES))
    name = names.SITES[place] + (f" {turn + 1}" if turn else "")
    return {"code": f"S{number + 1:02}", "name": f"{name} (invented)"}


def _building(plan: BuildingPlan, site: Site) -> Building:
    turn, place = divmod(plan.number, len(names.BUILDINGS))
    name = names.BUILDINGS[place] + (f" {turn + 1}" if turn else "")
    return Building(site=site, code=plan.code, name=name)


def _floors(building: Building) -> list[Floor]:
    return [Floor(building=building, label=label, level=level) for level, label in enumerate(LABELS)]


def _housings(plan: BuildingPlan, floors: list[Floor], rng: Random) -> list[Housing]:
    plant = engine.load_format(plan.plant_format_id).construction
    return [
        _housing(floor, number, plant, rng)
        for floor, doors in zip(floors, plan.doors_on_floor, strict=True)
        for number in range(1, doors + 1)
    ]


def _housing(floor: Floor, number: int, plant: str, rng: Random) -> Housing:
    is_plant = number % PLANT_ROOM_EVERY == 0
    lock = rng.choice([Housing.Kind.MORTISE, Housing.Kind.LEVER])
    return Housing(
        door=_door(floor, number, is_plant, rng),
        kind=PLANT_ROOM_LOCKS.get(plant, Housing.Kind.MORTISE) if is_plant else lock,
        construction=plant if is_plant else SMALL,
    )


def _door(floor: Floor, number: int, is_plant: bool, rng: Random) -> Door:
    is_entrance = floor.level == 0 and number == 1
    return Door(
        floor=floor,
        number=f"{floor.level}.{number:02}",
        name="Main entrance" if is_entrance else rng.choice(names.PLANT_ROOMS if is_plant else names.ROOMS),
        door_class=_door_class(is_plant, rng),
        is_egress=is_entrance or rng.random() < 0.06,
        is_fire_rated=is_plant or rng.random() < 0.12,
    )


def _door_class(is_plant: bool, rng: Random) -> str:
    if is_plant:
        return Door.DoorClass.CRITICAL
    return Door.DoorClass.RESTRICTED if rng.random() < 0.1 else Door.DoorClass.ORDINARY
