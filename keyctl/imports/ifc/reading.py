"""A building model to what it states of doors, spaces and floors; runs in the confined child.

IFC 2x3 and IFC 4 alike. Relations are followed from the door: what contains it, what it bounds, what is said
of it. Geometry is not looked at.
"""

import os
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from keyctl.imports.buildings.meaning import facts_of, meant_by, value_of
from keyctl.imports.buildings.stated import (
    Called,
    Stated,
    StatedBuilding,
    StatedDoor,
    StatedFloor,
    StatedSpace,
    Wrong,
    levels_of,
)
from keyctl.lib.errors import Refused
from keyctl.lib.marked import RefusedInside, gettext_noop
from keyctl.lib.texts import is_text

# What a door is called on its plan, by the programs that write models.
MARKS: Final = ("Mark", "DoorNumber", "Door Number")
COMMON: Final = "Pset_DoorCommon"
LONGEST: Final = {"number": 30, "floor": 36, "space": 36, "name": 120}
UNREADABLE: Final = gettext_noop(
    "The file cannot be read as a building model, or it is too large to be read here."
    " Save it anew as IFC 2x3 or IFC 4 (.ifc), or only the part of it that has the doors."
)
SCHEMAS: Final = ("IFC2X3", "IFC4")


def read(content: bytes) -> Stated:
    # Its arithmetic would start a thread for each core, with memory of its own.
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    import ifcopenshell  # noqa: F401 (what goes wrong from here on is the file's fault)

    try:
        return _Reading(_opened(content)).everything()
    except (Refused, MemoryError):
        raise
    except Exception:  # a broken model breaks the library in many ways, and none of them is ours to tell
        raise RefusedInside(UNREADABLE) from None


def _opened(content: bytes) -> Any:
    import ifcopenshell

    model = ifcopenshell.file.from_string(content.decode("latin-1"))
    if not model.schema.startswith(SCHEMAS):
        text = gettext_noop("The model is written in {schema}. Save it anew as IFC 2x3 or IFC 4 (.ifc).")
        raise RefusedInside(text, schema=model.schema)
    return model


def read_packed(content: bytes) -> tuple[Any, ...]:
    return read(content).packed()


class _Reading:
    def __init__(self, model: Any) -> None:
        self.model = model
        self.wrong: list[Wrong] = []
        self.floors: dict[int, int] = {}
        self.spaces: dict[int, int] = {}
        self.seen: dict[str, str] = {}

    def everything(self) -> Stated:
        floors = tuple(self._floors())
        spaces = tuple(self._spaces())
        read = self.model.by_type("IfcDoor")
        doors = tuple(self._doors(read))
        return Stated(self._building(), floors, spaces, doors, tuple(self.wrong), len(read))

    def _building(self) -> StatedBuilding | None:
        found = self.model.by_type("IfcBuilding")
        for other in found[1:]:
            self._fault(other, "GlobalId", "A model of one building is taken; this one's floors count to it.")
        if not found:
            return None
        name = _text(found[0].LongName) or _text(found[0].Name)
        return StatedBuilding(found[0].id(), self._called(found[0]), name[:120])

    def _floors(self) -> Iterator[StatedFloor]:
        found = self.model.by_type("IfcBuildingStorey")
        levels = levels_of([storey.Elevation for storey in found])
        names: set[str] = set()
        for storey, level in zip(found, levels, strict=True):
            name = _told_apart(
                _text(storey.Name) or _text(storey.LongName) or "Floor", names, LONGEST["floor"]
            )
            if self._is_alone(storey, "floors"):
                self.floors[storey.id()] = len(self.floors)
                yield StatedFloor(storey.id(), self._called(storey), name, level)

    def _spaces(self) -> Iterator[StatedSpace]:
        numbers: set[tuple[int, str]] = set()
        for space in self.model.by_type("IfcSpace"):
            floor = self._floor_of(space)
            number = _text(space.Name)
            if floor is None:
                self._fault(space, "Decomposes", "The space is on no storey.", "spaces")
            elif not number or len(number) > LONGEST["space"]:
                message = (
                    f"The space has no name of at most {LONGEST['space']} signs, by which it is numbered."
                )
                self._fault(space, "Name", message, "spaces")
            elif (floor, number) in numbers:
                self._fault(space, "Name", f"Another space of the storey is called {number}, too.", "spaces")
            elif self._is_alone(space, "spaces"):
                numbers.add((floor, number))
                self.spaces[space.id()] = len(self.spaces)
                name = _text(space.LongName)[: LONGEST["name"]]
                yield StatedSpace(space.id(), self._called(space), number, name, floor)

    def _doors(self, found: list[Any]) -> Iterator[StatedDoor]:
        placed = [(door, self._floor_of(door), self._spaces_of(door), _properties(door)) for door in found]
        marked = Counter((floor, _mark(properties)) for _, floor, _, properties in placed)
        for door, floor, spaces, properties in placed:
            if floor is None:
                self._fault(door, "ContainedInStructure", "The door is on no storey.", "doors")
            elif self._is_alone(door, "doors"):
                mark = _mark(properties)
                number = mark if mark and marked[floor, mark] == 1 else _tag(door)
                facts = facts_of(self._said(door, properties))
                called, name = self._called(door), _text(door.Name)[: LONGEST["name"]]
                yield StatedDoor(door.id(), called, name, number, floor, spaces, facts, is_numbered=False)

    def _said(self, door: Any, properties: dict[str, dict[str, str]]) -> dict[str, str]:
        """What is common to all doors goes before what one program adds."""
        said: dict[str, str] = {}
        for group in sorted(properties, key=lambda name: name != COMMON):
            for name, text in properties[group].items():
                if meant := meant_by(name):
                    value, message = value_of(meant, text)
                    if message:
                        self._fault(door, f"{group}.{name}", message)
                    elif value:
                        said.setdefault(meant, value)
        return said

    def _floor_of(self, thing: Any) -> int | None:
        """The storey that contains the thing, or the wall of its opening, or the space it is a part of."""
        for _ in range(8):
            if thing is None or thing.id() in self.floors:
                break
            thing = _above(thing)
        return self.floors.get(thing.id()) if thing is not None else None

    def _spaces_of(self, door: Any) -> tuple[int, ...]:
        bounded = [relation.RelatingSpace for relation in door.ProvidesBoundaries]
        places = (self.spaces.get(space.id()) for space in bounded if space is not None)
        return tuple(dict.fromkeys(place for place in places if place is not None))

    def _is_alone(self, thing: Any, kind: str) -> bool:
        first = self.seen.setdefault(thing.GlobalId, f"#{thing.id()}")
        if first == f"#{thing.id()}":
            return True
        self._fault(thing, "GlobalId", f"{first} has the same GlobalId.", kind)
        return False

    def _called(self, thing: Any) -> Called:
        history = thing.OwnerHistory
        program = history.OwningApplication if history is not None else None
        return Called(thing.GlobalId, _text(program.ApplicationFullName)[:120] if program is not None else "")

    def _fault(self, thing: Any, column: str, message: str, kind: str = "") -> None:
        self.wrong.append(Wrong(thing.is_a(), thing.id(), column, message, kind))


def _above(thing: Any) -> Any:
    for inverse, relating in (
        ("ContainedInStructure", "RelatingStructure"),
        ("Decomposes", "RelatingObject"),
        ("FillsVoids", "RelatingOpeningElement"),
        ("VoidsElements", "RelatingBuildingElement"),
    ):
        for relation in getattr(thing, inverse, None) or ():
            return getattr(relation, relating)
    return None


def _properties(door: Any) -> dict[str, dict[str, str]]:
    """By group and name; what is said of the door itself goes before what is said of its type."""
    from ifcopenshell.util.element import get_psets

    found = get_psets(door, psets_only=True)
    return {
        group: {name: _text(value) for name, value in values.items() if name != "id"}
        for group, values in found.items()
    }


def _mark(properties: dict[str, dict[str, str]]) -> str:
    for values in properties.values():
        for name in MARKS:
            if (text := values.get(name, "")) and text not in MARKS and len(text) <= LONGEST["number"]:
                return text
    return ""


def _tag(door: Any) -> str:
    """Of its own in the whole model, whatever else it says."""
    tag = _text(door.Tag)
    return tag if tag and len(tag) <= LONGEST["number"] else str(door.GlobalId)


def _told_apart(name: str, names: set[str], longest: int) -> str:
    short, number = name[:longest], 1
    while short.casefold() in names:
        number += 1
        short = f"{name[: longest - 4]} {number}"
    names.add(short.casefold())
    return short


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, str | int | float):
        return ""
    text = str(value).strip()
    return text if is_text(text) else ""
