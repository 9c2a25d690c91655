"""The invented key systems: four levels on A2, three on A4, and a small one per construction."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from keyctl.accounts.models import User
from keyctl.demo.places import BuiltBuilding, built_buildings
from keyctl.demo.plan import FLOORS, FOUR_LEVELS, HISTORY_DAYS, SPARE_CHANGES, Build, SystemPlan
from keyctl.lib.errors import Refused
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import design_system

MOST_DRAWS = 100


@dataclass
class Keyed:
    """A system, and which housing's core is keyed to which of its symbols."""

    system: KeySystem
    sites: list[Site]
    housings: list[tuple[Housing, KeySymbol]] = field(default_factory=list)
    spares: list[KeySymbol] = field(default_factory=list)


def build_system(build: Build, plan: SystemPlan, actor: User) -> Keyed:
    group = built_buildings(plan.buildings)
    facts: dict[str, Any] = {
        "actor": actor,
        "sites": _sites(group),
        "code": plan.code,
        "format_id": plan.format_id,
        "keyway": f"W{plan.code}",
        "rng": build.chance(f"system {plan.code}"),
    }
    keyed = _design_plant(group, facts) if plan.is_plant else _design_small(group, facts)
    # It stood before the first of its cores was pinned.
    keyed.system.created_at = build.today - timedelta(days=HISTORY_DAYS + 30)
    keyed.system.save(update_fields=["created_at"])
    return keyed


def _design_small(group: list[BuiltBuilding], facts: dict[str, Any]) -> Keyed:
    """A2: building, floor and door have a level each. A4: the floor of a building is one level."""
    changes = max(len(floor) for each in group for floor in each.small) + SPARE_CHANGES
    four = facts["format_id"] == FOUR_LEVELS
    system = design_system(
        **facts,
        name=f"{'Four' if four else 'Three'}-level system {facts['code']} (invented)",
        groups=[[1, 2], [3, 4], [5, 6, 7]] if four else [[1, 2, 3], [4, 5, 6, 7]],
        children=[len(group), FLOORS, changes] if four else [len(group) * FLOORS, changes],
    )
    keyed, paths = Keyed(system, facts["sites"]), _by_path(system)
    for number, each in enumerate(group):
        for level, floor in enumerate(each.small):
            master = (number, level) if four else (number * FLOORS + level,)
            keyed.housings += [(housing, paths[*master, door]) for door, housing in enumerate(floor)]
            keyed.spares += [paths[*master, spare] for spare in range(len(floor), changes)]
    return keyed


def _design_plant(group: list[BuiltBuilding], facts: dict[str, Any]) -> Keyed:
    """The two middle positions, which a sleeve may cover, stay the same in every key."""
    changes = max(1, *(len(each.plant) for each in group)) + 1
    system = _drawn_with_room(
        **facts,
        name=f"Plant rooms {facts['code']} (invented)",
        groups=[[1, 2], [5, 6]],
        children=[len(group), changes],
    )
    keyed, paths = Keyed(system, facts["sites"]), _by_path(system)
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


def _sites(group: list[BuiltBuilding]) -> list[Site]:
    return list({each.building.site.pk: each.building.site for each in group}.values())


def _by_path(system: KeySystem) -> dict[tuple[int, ...], KeySymbol]:
    """The symbols by the ordinals on the way down from the top."""
    symbols = {symbol.pk: symbol for symbol in system.symbols.filter(level__isnull=False)}
    paths: dict[tuple[int, ...], KeySymbol] = {}
    for symbol in symbols.values():
        # Its own system: else each would fetch it to name itself.
        symbol.system = system
        path, walk = [], symbol
        while walk.parent_id is not None:
            path.append(walk.ordinal)
            walk = symbols[walk.parent_id]
        paths[tuple(reversed(path))] = symbol
    return paths
