"""The invented key systems: four levels on A2, three on A4, and a small one per construction."""

from dataclasses import dataclass, field
from datetime import timedelta
from random import Random
from typing import Any

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.demo.places import BuiltBuilding
from keyctl.demo.plan import BUILDINGS_PER_SYSTEM, FLOORS, HISTORY_DAYS, PLANT_ROOM_FORMATS, SPARE_CHANGES
from keyctl.lib.errors import Refused
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import design_system

# MACS leaves less room under some masters than sixteen keys.
PLANT_BUILDINGS_PER_SYSTEM = 6
MOST_DRAWS = 100


@dataclass
class Keyed:
    """A system, and which housing's core is keyed to which of its symbols."""

    system: KeySystem
    housings: list[tuple[Housing, KeySymbol]] = field(default_factory=list)
    spares: list[KeySymbol] = field(default_factory=list)


def build_systems(built: list[BuiltBuilding], actor: User, rng: Random) -> list[Keyed]:
    keyed = []
    for format_id, prefix in (("small-a2-7", "GGM"), ("small-a4-7", "GM")):
        buildings = [each for each in built if each.plan.format_id == format_id]
        for number, group in enumerate(_in_groups(buildings), 1):
            keyed.append(_design_small(f"{prefix}{number}", format_id, group, actor, rng))
    for letter, format_id in zip("CDEFG", PLANT_ROOM_FORMATS, strict=True):
        buildings = [each for each in built if each.plan.plant_format_id == format_id]
        for number, group in enumerate(_in_groups(buildings, PLANT_BUILDINGS_PER_SYSTEM), 1):
            keyed.append(_design_plant(f"PLANT-{letter}{number}", format_id, group, actor, rng))
    _age(keyed)
    return keyed


def _in_groups(buildings: list[BuiltBuilding], size: int = BUILDINGS_PER_SYSTEM) -> list[list[BuiltBuilding]]:
    return [buildings[start : start + size] for start in range(0, len(buildings), size)]


def _design_small(code: str, format_id: str, group: list[BuiltBuilding], actor: User, rng: Random) -> Keyed:
    """A2: building, floor and door have a level each. A4: the floor of a building is one level."""
    changes = max(len(floor) for each in group for floor in each.small) + SPARE_CHANGES
    four = format_id == "small-a2-7"
    system = design_system(
        actor=actor,
        sites=_sites(group),
        code=code,
        name=f"{'Four' if four else 'Three'}-level system {code} (invented)",
        format_id=format_id,
        keyway=f"W{code}",
        groups=[[1, 2], [3, 4], [5, 6, 7]] if four else [[1, 2, 3], [4, 5, 6, 7]],
        children=[len(group), FLOORS, changes] if four else [len(group) * FLOORS, changes],
        rng=rng,
    )
    keyed, paths = Keyed(system), _by_path(system)
    for number, each in enumerate(group):
        for level, floor in enumerate(each.small):
            master = (number, level) if four else (number * FLOORS + level,)
            keyed.housings += [(housing, paths[*master, door]) for door, housing in enumerate(floor)]
            keyed.spares += [paths[*master, spare] for spare in range(len(floor), changes)]
    return keyed


def _design_plant(code: str, format_id: str, group: list[BuiltBuilding], actor: User, rng: Random) -> Keyed:
    """The two middle positions, which a sleeve may cover, stay the same in every key."""
    changes = max(1, *(len(each.plant) for each in group)) + 1
    system = _drawn_with_room(
        actor=actor,
        sites=_sites(group),
        code=code,
        name=f"Plant rooms {code} (invented)",
        format_id=format_id,
        keyway=f"W{code}",
        groups=[[1, 2], [5, 6]],
        children=[len(group), changes],
        rng=rng,
    )
    keyed, paths = Keyed(system), _by_path(system)
    for number, each in enumerate(group):
        keyed.housings += [(housing, paths[number, door]) for door, housing in enumerate(each.plant)]
        keyed.spares.append(paths[number, len(each.plant)])
    return keyed


def _drawn_with_room(**facts: Any) -> KeySystem:
    """Under some top masters MACS leaves too little room; then another one is drawn."""
    for _ in range(MOST_DRAWS):
        try:
            return design_system(**facts)
        except Refused:
            continue
    raise AssertionError("no top master leaves room for the plant rooms")


def _age(keyed: list[Keyed]) -> None:
    """The systems stood before the first of their cores was pinned."""
    begun = timezone.now() - timedelta(days=HISTORY_DAYS + 30)
    KeySystem.objects.filter(pk__in=[each.system.pk for each in keyed]).update(created_at=begun)


def _sites(group: list[BuiltBuilding]) -> list[Site]:
    return list({each.building.site.pk: each.building.site for each in group}.values())


def _by_path(system: KeySystem) -> dict[tuple[int, ...], KeySymbol]:
    """The symbols by the ordinals on the way down from the top."""
    symbols = {symbol.pk: symbol for symbol in system.symbols.filter(level__isnull=False)}
    paths: dict[tuple[int, ...], KeySymbol] = {}
    for symbol in symbols.values():
        path, walk = [], symbol
        while walk.parent_id is not None:
            path.append(walk.ordinal)
            walk = symbols[walk.parent_id]
        paths[tuple(reversed(path))] = symbol
    return paths
