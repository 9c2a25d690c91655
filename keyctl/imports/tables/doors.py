"""A table of doors: a row is a door, with its locks, the spaces it joins and its number in another list."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.utils.translation import gettext, gettext_lazy

from keyctl import engine
from keyctl.imports.kinds import Fault, Field, Given, Kind, Planned, planned
from keyctl.imports.placed import BUILDINGS, DOORS, FLOORS, HOUSINGS, IDENTIFIERS, SPACES
from keyctl.imports.tables.places import Known, PlacesNamed
from keyctl.imports.tables.rows import SITE, TableRow, rows_of, stepping
from keyctl.places.models import Door, Housing, Identifier
from keyctl.places.roles import Role

# The space of names in which a house's own lists number its doors.
OWN_LIST = "own list"
TEXTS = {
    "name": 120,
    "hardware_set": 60,
    "fire_rating": 60,
    "serial_number": 60,
    "asset_tag": 60,
    "bar_code": 60,
}
FLAGS = ("is_egress", "is_fire_rated")
CLASSES = {word.casefold(): value for value, label in Door.DoorClass.choices for word in (value, label)}
LOCKS = {word.casefold(): value for value, label in Housing.Kind.choices for word in (value, label)}
USUAL_CORES = "small-format"
FIELDS = (
    SITE,
    Field("building", gettext_lazy("Building"), ("building code", "block", "house"), needed=True),
    Field("floor", gettext_lazy("Floor"), ("storey", "level name"), needed=True),
    Field("level", gettext_lazy("Level of a new floor"), ("level", "storey number")),
    Field("number", gettext_lazy("Door number"), ("door", "door no", "number", "no", "opening"), needed=True),
    Field("name", gettext_lazy("Room"), ("room", "room name", "door name", "description")),
    Field("door_class", gettext_lazy("Class: ordinary, restricted, critical"), ("class", "security class")),
    Field(
        "is_egress",
        gettext_lazy("Way out in an emergency: yes or no"),
        ("egress", "emergency exit", "fire exit", "exit"),
    ),
    Field("is_fire_rated", gettext_lazy("Fire-rated: yes or no"), ("fire-rated", "fire rated", "fire door")),
    Field("housings", gettext_lazy("Locks"), ("housing", "lock", "lock type", "cylinders")),
    Field("construction", gettext_lazy("Cores its locks take"), ("cores", "core type")),
    Field("spaces", gettext_lazy("Spaces it joins"), ("space", "rooms", "from to")),
    Field("hardware_set", gettext_lazy("Hardware set"), ("hardware", "hw set", "hardware group")),
    Field("fire_rating", gettext_lazy("Stated rating"), ("rating",)),
    Field("serial_number", gettext_lazy("Serial number"), ("serial",)),
    Field("asset_tag", gettext_lazy("Asset tag"), ("asset", "asset number")),
    Field("bar_code", gettext_lazy("Bar code"), ("barcode",)),
    Field("identifier", gettext_lazy("Own identifier"), ("id", "door id", "own id", "external id")),
)
CHECK_FIRST = gettext_lazy(
    "By this row the door is no longer {what}. Look at it with whoever answers for it, and at "
    "the local code, before you take this."
)
NO_LOCKS = gettext_lazy(
    "No column says which locks the new doors have, so they come in without any, and no core can "
    "stand in them. Choose the column of the locks, or add them on the pages of the doors."
)
OTHER_CORES = gettext_lazy(
    "This lock takes other cores by our records, and is left so. Change it on the door's page."
)
TWO_DOORS = gettext_lazy(
    "The identifier is one door's, and the number on this floor another's. Correct one of them."
)
OTHER_NAME = gettext_lazy(
    "This door has another identifier on record. Correct the row, or the door's number in it."
)
LOST = {
    "is_egress": gettext_lazy("a way out in an emergency"),
    "is_fire_rated": gettext_lazy("fire-rated"),
}


@dataclass
class DoorRow:
    """What a sound row says of its door."""

    row: TableRow
    building: Known
    floor: Known
    number: str
    said: dict[str, Any]
    locks: list[tuple[str, str]]
    construction: str
    identifier: str
    pk: UUID | None = None
    now: dict[str, Any] | None = None

    @property
    def label(self) -> str:
        return f"{self.building.name} {self.number}"


@dataclass
class DoorTable:
    given: Given
    places: PlacesNamed
    constructions: tuple[str, ...] = field(default_factory=lambda: tuple(engine.constructions()))
    # (floor, number in any case) and identifiers that an earlier row named, with its number.
    numbers: dict[tuple[UUID, str], int] = field(default_factory=dict)
    names: dict[str, int] = field(default_factory=dict)
    lockless_told: bool = False

    def plan(self) -> Iterator[Planned | Fault]:
        for chunk in stepping(self.given, rows_of(self.given)):
            read = [(row, self._placed(row)) for row in chunk]
            self.places.read_spaces({place[1].pk for _, place in read if place})
            doors = [door for row, place in read if place and (door := self._read(row, *place))]
            self._find(doors)
            yield from self.places.take_planned()
            for door in doors:
                self._against_others(door)
            for row, _ in read:
                yield from row.faults
            yield from self._planned([door for door in doors if door.row.is_sound])

    def _placed(self, row: TableRow) -> tuple[Known, Known] | None:
        return self.places.floor_of(row)

    def _read(self, row: TableRow, building: Known, floor: Known) -> DoorRow | None:
        said: dict[str, Any] = {"floor_id": str(floor.pk), "number": row.needed("number", 30, "door number")}
        for name, longest in TEXTS.items():
            if text := row.text(name, longest):
                said[name] = text
        for name in FLAGS:
            if (flag := row.flag(name)) is not None:
                said[name] = flag
        if kind := row.choice("door_class", CLASSES, "class"):
            said["door_class"] = kind
        if row.says("spaces"):
            said["spaces"] = self.places.spaces_of(row, floor)
        locks = list(self._locks(row))
        identifier, construction = row.text("identifier", 120), self._construction(row)
        if not row.is_sound or self._is_twice(row, floor, said["number"], identifier):
            return None
        return DoorRow(row, building, floor, said["number"], said, locks, construction, identifier)

    def _is_twice(self, row: TableRow, floor: Known, number: str, identifier: str) -> bool:
        first = self.numbers.setdefault((floor.pk, number.casefold()), row.number)
        if first != row.number:
            row.fault(
                "number", gettext("Row {first} is this door too. Leave one of them out.").format(first=first)
            )
        named = self.names.setdefault(identifier, row.number) if identifier else row.number
        if named != row.number:
            row.fault(
                "identifier",
                gettext("Row {named} has this identifier too. Correct one of them.").format(named=named),
            )
        return not row.is_sound

    def _locks(self, row: TableRow) -> Iterator[tuple[str, str]]:
        """Kind and label of each: "mortise, padlock: hasp"."""
        for text in row.several("housings", 80):
            word, _, label = (part.strip() for part in text.partition(":"))
            if word.casefold() not in LOCKS:
                known = ", ".join(str(value) for value in Housing.Kind.values)
                row.fault(
                    "housings",
                    gettext("This lock is not known. Write one of: {known}; a label after a colon.").format(
                        known=known
                    ),
                )
            elif len(label) > 60:
                row.fault("housings", gettext("The label of a lock has 60 signs at most. Shorten it."))
            else:
                yield LOCKS[word.casefold()], label

    def _construction(self, row: TableRow) -> str:
        words = {name.casefold(): name for name in self.constructions}
        return row.choice("construction", words, "construction of cores") or USUAL_CORES

    def _find(self, doors: Sequence[DoorRow]) -> None:
        """The doors that are on record: by the identifier, else by the number on their floor."""
        own = Identifier.objects.filter(
            site=self.given.imported.site, source=OWN_LIST, kind=Identifier.Kind.DOOR
        )
        wanted = [door.identifier for door in doors if door.identifier]
        named = dict(own.filter(value__in=wanted).values_list("value", "door"))
        here = Door.objects.filter(
            floor__in={door.floor.pk for door in doors}, number__in={door.number for door in doors}
        )
        placed = {(floor, number): pk for floor, number, pk in here.values_list("floor", "number", "pk")}
        for door in doors:
            door.pk = named.get(door.identifier) or placed.get((door.floor.pk, door.number))
            other = placed.get((door.floor.pk, door.number))
            if other not in {None, door.pk}:
                door.row.fault("number", TWO_DOORS)
        known = dict(own.filter(door__in=[door.pk for door in doors]).values_list("door", "value"))
        for door in doors:
            if door.pk and door.identifier and known.get(door.pk, door.identifier) != door.identifier:
                door.row.fault("identifier", OTHER_NAME)
        states = DOORS.states(door.pk for door in doors if door.pk)
        for door in doors:
            door.now = states.get(door.pk) if door.pk else None

    def _against_others(self, door: DoorRow) -> None:
        for name, what in LOST.items():
            if door.now and door.now[name] and door.said.get(name) is False:
                door.row.fault(name, CHECK_FIRST.format(what=what), is_error=False)

    def _planned(self, doors: Sequence[DoorRow]) -> Iterator[Planned | Fault]:
        locks = _locks_of(door.pk for door in doors if door.pk)
        named = set(
            Identifier.objects.filter(
                site=self.given.imported.site, source=OWN_LIST, value__in=[door.identifier for door in doors]
            ).values_list("value", flat=True)
        )
        for door in doors:
            entry = self._planned_door(door)
            yield entry
            yield from self._without_locks(door)
            yield from self._planned_locks(door, entry.pk, locks.get(entry.pk, {}))
            if door.identifier:
                yield self._planned_identifier(door, entry.pk, door.identifier in named)

    def _planned_door(self, door: DoorRow) -> Planned:
        texts = {}
        if door.now and door.now["floor_id"] != door.said["floor_id"]:
            texts["floor_id"] = ("another floor", f"{door.building.name}, {door.floor.name}")
        pk = door.pk or uuid4()
        return planned(DOORS, door.label, door.said, door.now, pk=pk, texts=texts, row=door.row.number)

    def _without_locks(self, door: DoorRow) -> Iterator[Fault]:
        """Told once, at the first new door: a table that forgot its locks has forgotten them in each row."""
        if door.pk is None and not self.lockless_told and "housings" not in self.given.imported.columns:
            self.lockless_told = True
            yield Fault(NO_LOCKS, row=door.row.number, is_error=False)

    def _planned_locks(
        self, door: DoorRow, pk: UUID, stored: Mapping[tuple[str, str], tuple[UUID, str]]
    ) -> Iterator[Planned | Fault]:
        """Locks are added; one that is there already stays as it is, and none is taken away."""
        for kind, label in door.locks:
            name = f"{door.label}, {label or kind}"
            if (kind, label) not in stored:
                said = {"door_id": str(pk), "kind": kind, "label": label, "construction": door.construction}
                yield planned(HOUSINGS, name, said, None, row=door.row.number)
                continue
            there, construction = stored[kind, label]
            yield planned(HOUSINGS, name, {}, {}, pk=there, row=door.row.number)
            if door.row.says("construction") and construction != door.construction:
                yield Fault(OTHER_CORES, row=door.row.number, is_error=False)

    def _planned_identifier(self, door: DoorRow, pk: UUID, is_known: bool) -> Planned:
        said = {
            "site_id": str(self.given.imported.site_id),
            "source": OWN_LIST,
            "kind": str(Identifier.Kind.DOOR),
            "value": door.identifier,
            "door_id": str(pk),
        }
        label = f"{door.label}: {door.identifier}"
        now = said if is_known else None
        return planned(IDENTIFIERS, label, said, now, pk=uuid4(), row=door.row.number)


def _locks_of(doors: Iterator[UUID]) -> dict[UUID, dict[tuple[str, str], tuple[UUID, str]]]:
    rows = Housing.objects.filter(door__in=list(doors)).values_list(
        "door", "kind", "label", "pk", "construction"
    )
    found: dict[UUID, dict[tuple[str, str], tuple[UUID, str]]] = {}
    for door, kind, label, pk, construction in rows:
        found.setdefault(door, {})[kind, label] = (pk, construction)
    return found


def plan_doors(given: Given) -> Iterator[Planned | Fault]:
    return DoorTable(given, PlacesNamed(given.actor, given.imported.site)).plan()


DOOR_TABLE = Kind(
    name="doors",
    label=gettext_lazy("Doors"),
    hint=gettext_lazy(
        "A row a door: its building, floor and number, and what else is known. A door is found again by its "
        "own identifier, else by its number on its floor. An empty cell leaves what is on record; locks are "
        "added and none is taken away. Several locks or spaces stand in one cell with commas between them."
    ),
    takers=(Role.LOCKSMITH, Role.ADMINISTRATOR),
    things=(BUILDINGS, FLOORS, SPACES, DOORS, HOUSINGS, IDENTIFIERS),
    main="doors",
    plan=plan_doors,
    fields=FIELDS,
)
