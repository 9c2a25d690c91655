"""Buildings, floors and spaces as a table of doors names them: found, or planned where that is allowed."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.imports.access import may_build
from keyctl.imports.kinds import Planned, planned
from keyctl.imports.placed import BUILDINGS, FLOORS, SPACES
from keyctl.imports.records import Records
from keyctl.imports.tables.rows import TableRow
from keyctl.places.models import Building, Floor, Site, Space

LONGEST_CODE, LONGEST_FLOOR, LONGEST_SPACE = 12, 40, 40
# As people name them, by what the word begins with.
LEVELS = (("ground", 0), ("basement", -1), ("cellar", -1), ("roof", 99))
BELOW, NUMBER = re.compile(r"(?:^|\s)-\s?(\d{1,3})\b"), re.compile(r"\d{1,3}")
NOT_YOURS = gettext_lazy(
    "{what} is not on record, and only an administrator of {site} adds one. Ask for it, or correct it."
)


def level_of(label: str) -> int:
    """
    >>> [level_of(label) for label in ("Level 2", "Ground floor", "-1", "Level-1", "Level -1", "Mezzanine")]
    [2, 0, -1, 1, -1, 0]
    """
    plain = label.casefold()
    for word, level in LEVELS:
        if word in plain:
            return level
    if below := BELOW.search(plain):
        return -int(below[1])
    number = NUMBER.search(plain)
    return int(number[0]) if number else 0


@dataclass
class Known:
    pk: UUID
    name: str


@dataclass
class PlacesNamed:
    """Found by code, name or label in any case; each new one is planned once, before what stands on it."""

    actor: User
    site: Site
    buildings: dict[str, Known] = field(default_factory=dict)
    floors: dict[tuple[UUID, str], Known] = field(default_factory=dict)
    spaces: dict[tuple[UUID, str], Known] = field(default_factory=dict)
    new_spaces: dict[tuple[UUID, str], Known] = field(default_factory=dict)
    to_plan: list[Planned] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.may_build = may_build(self.actor, self.site)
        for building in Building.objects.filter(site=self.site):
            known = Known(building.pk, building.code)
            self.buildings.setdefault(building.name.casefold(), known)
            self.buildings[building.code.casefold()] = known
        for floor in Floor.objects.filter(building__site=self.site):
            self.floors[floor.building_id, floor.label.casefold()] = Known(floor.pk, floor.label)

    def floor_of(self, row: TableRow) -> tuple[Known, Known] | None:
        """The building and the floor of a row; None where a fault says why not."""
        code = row.needed("building", 120, "building")
        label = row.needed("floor", LONGEST_FLOOR, "floor")
        level = row.text("level", 6)
        if level and not re.fullmatch(r"-?\d{1,3}", level):
            row.fault("level", _("This is no number. Write 0 for the ground floor; cellars count below it."))
        if not row.is_sound:
            return None
        building = self.buildings.get(code.casefold()) or self._new_building(row, code)
        if building is None:
            return None
        floor = self.floors.get((building.pk, label.casefold()))
        floor = floor or self._new_floor(row, building, label, int(level or level_of(label)))
        return (building, floor) if floor else None

    def spaces_of(self, row: TableRow, floor: Known) -> list[str]:
        """The identifiers of the spaces that a row names, on its door's own floor."""
        found = []
        for number in row.several("spaces", LONGEST_SPACE):
            space = self.spaces.get((floor.pk, number.casefold())) or self._new_space(row, floor, number)
            if space:
                found.append(str(space.pk))
        return sorted(found)

    def read_spaces(self, floors: set[UUID]) -> None:
        """Of the floors in hand; those of others are not kept in memory, but for planned ones."""
        stored = Space.objects.filter(floor__in=floors).values_list("floor", "number", "pk")
        found = {(floor, number.casefold()): Known(pk, number) for floor, number, pk in stored}
        self.spaces = self.new_spaces | found

    def take_planned(self) -> Iterator[Planned]:
        yield from self.to_plan
        self.to_plan = []

    def _new_building(self, row: TableRow, code: str) -> Known | None:
        if not self.may_build:
            row.fault("building", NOT_YOURS.format(what=_("The building"), site=self.site))
            return None
        if len(code) > LONGEST_CODE:
            row.fault(
                "building",
                _(
                    "No building is called this, and the code of a new one has {longest_code} signs at most: "
                    "it stands before every door's number. Shorten it, or add the building under Places "
                    "first."
                ).format(longest_code=LONGEST_CODE),
            )
            return None
        entry = self._plan(BUILDINGS, row, code, {"site_id": str(self.site.pk), "code": code, "name": code})
        return self.buildings.setdefault(code.casefold(), Known(entry.pk, code))

    def _new_floor(self, row: TableRow, building: Known, label: str, level: int) -> Known | None:
        if not self.may_build:
            row.fault("floor", NOT_YOURS.format(what=_("The floor"), site=self.site))
            return None
        said = {"building_id": str(building.pk), "label": label, "level": level}
        entry = self._plan(FLOORS, row, f"{building.name}, {label}", said)
        return self.floors.setdefault((building.pk, label.casefold()), Known(entry.pk, label))

    def _new_space(self, row: TableRow, floor: Known, number: str) -> Known | None:
        if not self.may_build:
            row.fault("spaces", NOT_YOURS.format(what=_("The space"), site=self.site))
            return None
        said = {"floor_id": str(floor.pk), "number": number, "name": ""}
        entry = self._plan(SPACES, row, f"{floor.name}, space {number}", said)
        known = self.new_spaces[floor.pk, number.casefold()] = Known(entry.pk, number)
        self.spaces[floor.pk, number.casefold()] = known
        return known

    def _plan(self, thing: Records, row: TableRow, label: str, said: Mapping[str, Any]) -> Planned:
        entry = planned(thing, label, said, None, row=row.number)
        self.to_plan.append(entry)
        return entry
