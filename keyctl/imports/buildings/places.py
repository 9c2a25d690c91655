"""From what a file states to a plan: the building, its floors and spaces. Only reads.

A place takes a new name only where the file itself calls it otherwise than the last one did.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar
from uuid import UUID, uuid4

from django.db.models import Q
from django.utils.translation import gettext as _

from keyctl.imports.buildings.matching import CHUNK, Known, known_by_identifier
from keyctl.imports.buildings.stated import (
    Called,
    Stated,
    StatedBuilding,
    StatedDoor,
    StatedFloor,
    StatedSpace,
)
from keyctl.imports.kinds import Fault, Planned, planned
from keyctl.imports.placed import BUILDINGS, FLOORS, IDENTIFIERS, SPACES
from keyctl.lib.guids import uuid_of
from keyctl.places.models import Building, Floor, Site, Space

Found = Iterator[Planned | Fault]
Named = StatedBuilding | StatedFloor | StatedSpace | StatedDoor
Row = TypeVar("Row")
LONGEST_CODE: Final = 12
UNNAMED: Final = "Building"
LONGEST: Final = 120


def chunks_of(rows: Sequence[Row]) -> Iterator[Sequence[Row]]:
    return (rows[first : first + CHUNK] for first in range(0, len(rows), CHUNK))


@dataclass
class Ground:
    """What a file stands on here, as its plan goes on: places found, or to be made. ``sheets`` are what the
    file calls the lists of each kind."""

    site: Site
    stated: Stated
    sheets: Mapping[str, str]
    building: UUID = field(default_factory=uuid4)
    floors: list[UUID] = field(default_factory=list)
    spaces: list[UUID] = field(default_factory=list)
    # Of these floors nothing is on record yet.
    new: set[UUID] = field(default_factory=set)

    def identifier(
        self, kind: str, place: UUID, stated: Named, name: str, known: Known | None = None
    ) -> Found:
        """The identifier of a place that this file gives one; on record already, it keeps the latest name."""
        called = stated.called
        if not called.value or uuid_of(called.value) == place:
            return
        said: dict[str, Any] = {"name": name[:120]} if name else {}
        if known is None:
            said |= {"site_id": str(self.site.pk), "source": called.source[:120], "kind": kind}
            said |= {"value": called.value[:120], "system": called.system[:120], f"{kind}_id": str(place)}
        now, pk = (None, None) if known is None else ({"name": known.name}, known.identifier)
        label = f"{called.value}, {name}" if name else called.value
        yield planned(IDENTIFIERS, label, said, now, pk=pk, **self.where(kind, stated))

    def where(self, kind: str, stated: Named | None) -> dict[str, Any]:
        return {"sheet": self.sheets[kind], "row": stated.row if stated else 0}


def plan_places(ground: Ground) -> Found:
    yield from _building(ground)
    yield from _floors(ground)
    yield from _spaces(ground)


def _building(ground: Ground) -> Found:
    stated = ground.stated.building or StatedBuilding(0, Called(), "")
    known = known_by_identifier(ground.site, "building", [stated.called])
    hit = known.get((stated.called.source, stated.called.value))
    building = _building_on_record(ground.site, stated, hit)
    ground.building = building.pk if building else ground.building
    said = {} if building else _new_building(ground.site, stated)
    label = str(building or said["name"])
    where = ground.where("building", stated)
    yield planned(BUILDINGS, label, said, {} if building else None, pk=ground.building, **where)
    yield from ground.identifier("building", ground.building, stated, stated.name, hit)


def _building_on_record(site: Site, stated: StatedBuilding, known: Known | None) -> Building | None:
    buildings = Building.objects.filter(site=site)
    if known:
        return buildings.get(pk=known.place)
    name, code = stated.name, _code_of(stated.name)
    by_name = Q(name__iexact=name) | Q(code__iexact=name) | Q(code=code, name=stated.description or name)
    return buildings.filter(by_name).first() if name else None


def _code_of(name: str) -> str:
    return (name or UNNAMED)[:LONGEST_CODE].strip()


def _new_building(site: Site, stated: StatedBuilding) -> dict[str, str]:
    """A code of the name's first signs, told apart from the codes of the site's other buildings."""
    code = base = _code_of(stated.name)
    taken = set(Building.objects.filter(site=site).values_list("code", flat=True))
    number = 1
    while code in taken:
        number += 1
        code = f"{base[: LONGEST_CODE - len(str(number))]}{number}"
    return {"site_id": str(site.pk), "code": code, "name": stated.description or stated.name or UNNAMED}


def _floors(ground: Ground) -> Found:
    stated = ground.stated.floors
    known = known_by_identifier(ground.site, "floor", (floor.called for floor in stated))
    rows = Floor.objects.filter(
        Q(building=ground.building) | Q(pk__in=[each.place for each in known.values()])
    )
    there = {floor.pk: floor for floor in rows}
    met = {each.place for each in known.values()}
    labels = {
        floor.label.casefold(): floor for floor in there.values() if floor.building_id == ground.building
    }
    for each in stated:
        hit = known.get((each.called.source, each.called.value))
        named = labels.get(each.name.casefold())
        found = there[hit.place] if hit else named if named and named.pk not in met else None
        yield from _floor(ground, each, found, hit, is_free=named is None or named == found)


def _floor(
    ground: Ground, stated: StatedFloor, found: Floor | None, known: Known | None, *, is_free: bool
) -> Found:
    said: dict[str, Any] = {}
    label = stated.name if is_free else f"{stated.name} (2)"
    if found is None:
        said = {"building_id": str(ground.building), "label": label, "level": stated.level}
    elif known and known.name not in {"", stated.name}:
        said = {"label": label}
    pk = found.pk if found else uuid4()
    ground.floors.append(pk)
    ground.new |= set() if found else {pk}
    where = ground.where("floor", stated)
    now = {"label": found.label} if found else None
    yield planned(FLOORS, stated.name, said, now, pk=pk, **where)
    yield from ground.identifier("floor", pk, stated, stated.name, known)
    if said.get("label", stated.name) != stated.name:
        yield _second(
            _("Another floor of the building is called {name}, so this one is marked as the second.").format(
                name=stated.name
            ),
            where,
        )


def _spaces(ground: Ground) -> Found:
    met: set[UUID] = set()
    for chunk in chunks_of(ground.stated.spaces):
        known = known_by_identifier(ground.site, "space", (space.called for space in chunk))
        met |= {each.place for each in known.values()}
    for chunk in chunks_of(ground.stated.spaces):
        known = known_by_identifier(ground.site, "space", (space.called for space in chunk))
        there = _spaces_there(ground, chunk, known)
        numbers = {(space.floor_id, space.number): space for space in there.values()}
        for space in chunk:
            hit = known.get((space.called.source, space.called.value))
            numbered = numbers.get((ground.floors[space.floor], space.number))
            found = there[hit.place] if hit else numbered if numbered and numbered.pk not in met else None
            yield from _space(ground, space, found, hit, is_free=numbered is None or numbered == found)


def _spaces_there(
    ground: Ground, chunk: Sequence[StatedSpace], known: dict[tuple[str, str], Known]
) -> dict[UUID, Space]:
    floors = {ground.floors[space.floor] for space in chunk}
    by_number = Q(floor__in=floors, number__in={space.number for space in chunk})
    rows = Space.objects.filter(by_number | Q(pk__in=[each.place for each in known.values()]))
    return {space.pk: space for space in rows.order_by()}


def _space(
    ground: Ground, stated: StatedSpace, found: Space | None, known: Known | None, *, is_free: bool
) -> Found:
    said: dict[str, Any] = {"name": stated.name} if stated.name else {}
    number = stated.number if is_free else f"{stated.number} (2)"
    floor = ground.floors[stated.floor]
    if found is None or known:
        said["floor_id"] = str(floor)
    if found is None or (known and (known.name not in {"", stated.number} or found.floor_id != floor)):
        said["number"] = number
    pk = found.pk if found else uuid4()
    ground.spaces.append(pk)
    now = {"number": found.number, "name": found.name, "floor_id": str(found.floor_id)} if found else None
    where = ground.where("space", stated)
    yield planned(SPACES, f"{stated.number} {stated.name}".strip(), said, now, pk=pk, **where)
    yield from ground.identifier("space", pk, stated, stated.number, known)
    if said.get("number", stated.number) != stated.number:
        yield _second(
            _(
                "Another space of the floor has the number {number}, so this one is marked as the second."
            ).format(number=stated.number),
            where,
        )


def _second(sentence: str, where: Mapping[str, Any]) -> Fault:
    return Fault(
        sentence,
        column=_("Name"),
        is_error=False,
        **where,
    )
