"""Which cores a plan works on: all that are exposed, or those that are due and what hangs together."""

from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext_lazy

from keyctl.losses.models import CaseDoor, LossCase
from keyctl.losses.planning.ground import Ground, keyed_directly

ALL, DUE = "all", "due"
SCOPES = {ALL: gettext_lazy("every door that is exposed"), DUE: gettext_lazy("only the doors that are due")}


@dataclass(frozen=True, slots=True)
class Place:
    """An exposed core and where it is; ``keyed`` are the symbols it is keyed to."""

    core: UUID
    system: UUID
    site: UUID
    door: UUID | None
    building: UUID | None
    door_class: str
    is_due: bool
    keyed: tuple[UUID, ...]


@dataclass(frozen=True)
class Scope:
    """``places`` are worked on; ``left`` are exposed too and stay as they are."""

    name: str
    places: dict[UUID, Place]
    left: dict[UUID, Place]

    @property
    def is_all(self) -> bool:
        return self.name == ALL

    def by_system(self) -> dict[UUID, list[Place]]:
        found: dict[UUID, list[Place]] = {}
        for place in self.places.values():
            found.setdefault(place.system, []).append(place)
        return found


def exposed_places(case: LossCase) -> dict[UUID, Place]:
    """The exposed cores of the last look that are keyed to a system."""
    rows = list(
        CaseDoor.objects.of(case)
        .exposed()
        .filter(core__system__isnull=False, core__pinning__isnull=False)
        .order_by("ordinal")
        .values_list("core", "core__system", "site", "door", "building", "door_class", "is_due")
    )
    keyed = keyed_directly([row[0] for row in rows])
    return {row[0]: Place(*row, tuple(keyed[row[0]])) for row in rows}


def scopes_of(case: LossCase, ground: Ground) -> list[Scope]:
    """All first; the due ones where they are fewer."""
    places = exposed_places(case)
    scopes = [Scope(ALL, places, {})]
    due = closed({core for core, place in places.items() if place.is_due}, places, ground)
    if due and len(due) < len(places):
        inside = {core: place for core, place in places.items() if core in due}
        outside = {core: place for core, place in places.items() if core not in due}
        scopes.append(Scope(DUE, inside, outside))
    return scopes


def closed(chosen: set[UUID], places: dict[UUID, Place], ground: Ground) -> set[UUID]:
    """With what hangs together: a key right below a lost master gets one master, so its doors go together."""
    groups = {core: branches_of(place, ground) for core, place in places.items()}
    found, grown = set(chosen), True
    while grown:
        touched = {branch for core in found for branch in groups[core]}
        more = {core for core, branches in groups.items() if core not in found and branches & touched}
        found |= more
        grown = bool(more)
    return found


def branches_of(place: Place, ground: Ground) -> frozenset[UUID]:
    """The keys right below lost masters through which the core hangs under them."""
    tree = ground.tree(place.system)
    masters = [key for key in ground.lost if key in tree.nodes and tree.nodes[key].is_master]
    steps = (tree.step_below(key, master) for key in place.keyed for master in masters)
    return frozenset(step for step in steps if step is not None)
