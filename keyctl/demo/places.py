"""Sites, buildings, floors, doors and housings of the invented estate."""

from dataclasses import dataclass, field
from random import Random

from keyctl import engine
from keyctl.demo import names
from keyctl.demo.plan import PLANT_ROOM_EVERY, BuildingPlan, EstatePlan
from keyctl.places.models import Building, Door, Floor, Housing, Site

BATCH = 2000
SMALL = "small-format"
PLANT_ROOM_LOCKS = {"ordinary": Housing.Kind.RIM, "padlock": Housing.Kind.PADLOCK}


@dataclass
class BuiltBuilding:
    """A stored building with its doors, sorted by what their housings take."""

    plan: BuildingPlan
    building: Building
    # Per floor, the housings that take small-format cores; and those of the plant rooms.
    small: list[list[Housing]] = field(default_factory=list)
    plant: list[Housing] = field(default_factory=list)


def build_places(plan: EstatePlan, rng: Random) -> list[BuiltBuilding]:
    sites = Site.objects.bulk_create([_site(number) for number in range(plan.sites)])
    built = [BuiltBuilding(shape, _building(shape, sites[shape.site])) for shape in plan.buildings]
    Building.objects.bulk_create([each.building for each in built], batch_size=BATCH)
    floors = [floor for each in built for floor in _floors(each)]
    Floor.objects.bulk_create(floors, batch_size=BATCH)
    housings = [housing for each in built for housing in _housings(each, floors, rng)]
    Door.objects.bulk_create([housing.door for housing in housings], batch_size=BATCH)
    Housing.objects.bulk_create(housings, batch_size=BATCH)
    return built


def _site(number: int) -> Site:
    turn, place = divmod(number, len(names.SITES))
    name = names.SITES[place] + (f" {turn + 1}" if turn else "")
    return Site(code=f"S{number + 1:02}", name=f"{name} (invented)")


def _building(plan: BuildingPlan, site: Site) -> Building:
    turn, place = divmod(plan.number, len(names.BUILDINGS))
    name = names.BUILDINGS[place] + (f" {turn + 1}" if turn else "")
    return Building(site=site, code=f"{name[0]}{turn + 1 if turn else ''}", name=name)


def _floors(each: BuiltBuilding) -> list[Floor]:
    labels = ["Ground floor", "First floor", "Second floor"]
    return [
        Floor(building=each.building, label=labels[level], level=level)
        for level in range(len(each.plan.doors_on_floor))
    ]


def _housings(each: BuiltBuilding, floors: list[Floor], rng: Random) -> list[Housing]:
    made: list[Housing] = []
    own = [floor for floor in floors if floor.building is each.building]
    plant = engine.load_format(each.plan.plant_format_id).construction
    for floor, doors in zip(own, each.plan.doors_on_floor, strict=True):
        on_floor = [_housing(floor, number, plant, rng) for number in range(1, doors + 1)]
        each.small.append([housing for housing in on_floor if housing.construction == SMALL])
        each.plant += [housing for housing in on_floor if housing.construction != SMALL]
        made += on_floor
    return made


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
