"""From what a file states to a plan: the doors. Only reads.

A door that its identifier finds takes what the file says of it. It is renumbered only where the file itself
calls it otherwise than the last one did: so what people corrected here stays, and a model, whose names only
tell doors apart, renumbers nothing.
"""

from collections.abc import Iterator, Sequence
from typing import Final
from uuid import UUID, uuid4

from django.utils.translation import gettext, gettext_lazy

from keyctl.imports.buildings.matching import (
    CHUNK,
    Known,
    doors_by_number,
    known_by_identifier,
    own_doors,
)
from keyctl.imports.buildings.meaning import FACTS
from keyctl.imports.buildings.places import Found, Ground
from keyctl.imports.buildings.stated import StatedDoor
from keyctl.imports.kinds import Fault, planned
from keyctl.imports.placed import DOORS
from keyctl.imports.records import Values
from keyctl.places.models import Space

NEW_HERE: Final = gettext_lazy(
    "The identifier is not on record: the door is matched by its floor and number."
)
NAMELESS: Final = gettext_lazy(
    "The file gives the door no identifier: it is matched by its floor and number."
)
Chunks = Iterator[tuple[int, Sequence[StatedDoor]]]


class Doors:
    """All doors of a file. ``found`` are those that an identifier finds, by their place in the file."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.found: dict[int, UUID] = {}
        self.met: set[UUID] = set()
        self.numbers: set[tuple[UUID, str]] = set()

    def plan(self) -> Found:
        for first, doors in self.chunks():
            self._find(first, doors)
        for first, doors in self.chunks():
            yield from _Chunk(self, first, doors).plan()

    def chunks(self) -> Chunks:
        doors = self.ground.stated.doors
        return ((first, doors[first : first + CHUNK]) for first in range(0, len(doors), CHUNK))

    def _find(self, first: int, doors: Sequence[StatedDoor]) -> None:
        """Before any door is looked for by its number: what one row means is no other row's."""
        called = [door.called for door in doors]
        known = known_by_identifier(self.ground.site, "door", called)
        own = own_doors(self.ground.site, called)
        for place, each in enumerate(called, first):
            hit = known.get((each.source, each.value))
            pk = hit.place if hit else own.get(each.value)
            if pk and pk not in self.met:
                self.found[place] = pk
                self.met.add(pk)


class _Chunk:
    """Some hundred doors at once: what is on record of them is asked for in a few queries."""

    def __init__(self, doors: Doors, first: int, stated: Sequence[StatedDoor]) -> None:
        self.doors, self.ground, self.stated = doors, doors.ground, stated
        self.floors = [self.ground.floors[door.floor] for door in stated]
        self.known = known_by_identifier(self.ground.site, "door", (door.called for door in stated))
        old = [
            (floor, door)
            for floor, door in zip(self.floors, stated, strict=True)
            if floor not in self.ground.new
        ]
        self.numbered = doors_by_number([(floor, (door.number, door.name)) for floor, door in old])
        self.pks = [self._find(first, place) for place in range(len(stated))]
        self.now = DOORS.states([pk for pk, _ in self.pks if pk])
        self.rooms = self._rooms()

    def plan(self) -> Found:
        for door, floor, (pk, by_number) in zip(self.stated, self.floors, self.pks, strict=True):
            if pk is None:
                yield from self._new(door, floor)
            else:
                yield from self._known(door, floor, pk)
            if by_number:
                message = NEW_HERE if door.called.value else NAMELESS
                yield Fault(
                    message, column=gettext("Name"), is_error=False, **self.ground.where("door", door)
                )

    def _find(self, first: int, place: int) -> tuple[UUID | None, bool]:
        """The door on record, and whether its number alone told."""
        doors, door, floor = self.doors, self.stated[place], self.floors[place]
        if first + place in doors.found:
            return doors.found[first + place], False
        for number in (door.number, door.name):
            pk = self.numbered.get((floor, number))
            if pk and pk not in doors.met:
                doors.met.add(pk)
                return pk, True
        return None, False

    def _new(self, door: StatedDoor, floor: UUID) -> Found:
        key = (floor, door.number)
        if key in self.doors.numbers or key in self.numbered:
            where = self.ground.stated.floors[door.floor].name
            message = gettext(
                "Another door has the number {number} on {where}. Give one of them another number."
            ).format(number=door.number, where=where)
            yield Fault(message, column=gettext("Name"), thing=DOORS.name, **self.ground.where("door", door))
            return
        self.doors.numbers.add(key)
        pk = uuid4()
        room = self.ground.stated.spaces[door.spaces[0]].name if door.spaces else ""
        said = self._said(door) | {"floor_id": str(floor), "number": door.number, "name": room}
        yield planned(DOORS, self._label(door), said, None, pk=pk, **self.ground.where("door", door))
        yield from self._identifier(door, pk, None)

    def _known(self, door: StatedDoor, floor: UUID, pk: UUID) -> Found:
        known = self.known.get((door.called.source, door.called.value))
        now, said = self.now[pk], self._said(door)
        if now["floor_id"] not in self._floors_of(door, floor):
            said["floor_id"] = str(floor)
        if known and door.is_numbered and known.name != door.name:
            said["number"] = door.number
        if not self._is_free(pk, said, now):
            message = gettext(
                "Another door has the number {number} there, so this one stays as it is numbered."
            ).format(number=door.number)
            yield Fault(message, column=gettext("Name"), is_error=False, **self.ground.where("door", door))
            said.pop("number", None)
            said.pop("floor_id", None)
        texts = {"spaces": (self._words(now["spaces"]), self._stated_words(door))}
        label = self._label(door)
        yield planned(DOORS, label, said, now, pk=pk, texts=texts, **self.ground.where("door", door))
        yield from self._identifier(door, pk, known)

    def _said(self, door: StatedDoor) -> Values:
        """What is empty in the file says nothing."""
        said: Values = {fact: text for fact, text in zip(FACTS, door.facts, strict=True) if text}
        if door.spaces:
            said["spaces"] = sorted({str(self.ground.spaces[place]) for place in door.spaces})
        return said

    def _floors_of(self, door: StatedDoor, floor: UUID) -> set[str]:
        """A door between two floors may stand on either."""
        spaces = self.ground.stated.spaces
        return {str(floor), *(str(self.ground.floors[spaces[place].floor]) for place in door.spaces)}

    def _is_free(self, pk: UUID, said: Values, now: Values) -> bool:
        floor = UUID(said.get("floor_id", now["floor_id"]))
        number = str(said.get("number", now["number"]))
        return self.numbered.get((floor, number), pk) == pk and (floor, number) not in self.doors.numbers

    def _identifier(self, door: StatedDoor, pk: UUID, known: Known | None) -> Found:
        name = door.name if door.is_numbered else ""
        yield from self.ground.identifier("door", pk, door, name, known)

    def _rooms(self) -> dict[str, str]:
        """The numbers of the spaces that the doors have now."""
        pks = {space for state in self.now.values() for space in state["spaces"]}
        return {
            str(pk): number for pk, number in Space.objects.filter(pk__in=pks).values_list("pk", "number")
        }

    def _words(self, pks: Sequence[str]) -> str:
        return ", ".join(sorted(self.rooms.get(pk, "") for pk in pks)) or "nothing"

    def _stated_words(self, door: StatedDoor) -> str:
        return ", ".join(sorted({self.ground.stated.spaces[place].number for place in door.spaces}))

    def _label(self, door: StatedDoor) -> str:
        return f"{door.number}, {self.ground.stated.floors[door.floor].name}"
