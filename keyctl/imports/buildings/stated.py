"""What a file about a building states: plain values that a confined child hands over, row by row.

Nothing here knows a database. Places point at each other by their position in the lists.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final, NamedTuple, Self, overload

from keyctl.lib.guids import IS_GLOBAL_ID

GLOBAL_ID: Final = "GlobalId"
# So many doors are looked at together.
AT_ONCE: Final = 500


class Wrong(NamedTuple):
    """Why a row is not taken, or not whole. `row` is the number in the sheet, or an entity's number;
    `thing` ("doors") says what is left out by it."""

    sheet: str
    row: int
    column: str
    message: str
    thing: str = ""


class Called(NamedTuple):
    """The identifier that the file gives a thing; empty where it gives none."""

    value: str = ""
    system: str = ""

    @property
    def source(self) -> str:
        """The space of names in which the value stands for one thing.

        >>> Called("1byTDaqS91rBnWJlv$nmA0", "Modeller").source, Called("17", "Modeller").source
        ('GlobalId', 'Modeller')
        """
        return GLOBAL_ID if IS_GLOBAL_ID.fullmatch(self.value) else self.system or "unnamed"


class StatedBuilding(NamedTuple):
    row: int
    called: Called
    name: str
    description: str = ""


class StatedFloor(NamedTuple):
    row: int
    called: Called
    name: str
    level: int


class StatedSpace(NamedTuple):
    row: int
    called: Called
    number: str
    name: str
    floor: int


class StatedDoor(NamedTuple):
    """`is_numbered`: the file means `number` for what stands on the door; else it only tells doors apart.

    `facts` are in the order of `meaning.FACTS`; a space named twice stands there twice.
    """

    row: int
    called: Called
    name: str
    number: str
    floor: int
    spaces: tuple[int, ...]
    facts: tuple[str, ...]
    is_numbered: bool = True


class PackedDoors(Sequence[StatedDoor]):
    """Doors as texts of some hundred each, of which one is open at a time: a campus's take much room else."""

    def __init__(self, texts: Sequence[str], count: int) -> None:
        self._texts, self._count = texts, count

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, place: int) -> StatedDoor: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[StatedDoor]: ...
    def __getitem__(self, place: int | slice) -> StatedDoor | Sequence[StatedDoor]:
        if isinstance(place, int):
            part, within = divmod(range(self._count)[place], AT_ONCE)
            return self._opened(part)[within]
        wanted = range(self._count)[place]
        opened = {part: self._opened(part) for part in {at // AT_ONCE for at in wanted}}
        return [opened[at // AT_ONCE][at % AT_ONCE] for at in wanted]

    def __iter__(self) -> Iterator[StatedDoor]:
        for part in range(len(self._texts)):
            yield from self._opened(part)

    def _opened(self, part: int) -> list[StatedDoor]:
        return [_door(row) for row in json.loads(self._texts[part])]


class Stated(NamedTuple):
    """A whole file. `doors_read` counts faulty ones too; a place left out by a fault is in no list."""

    building: StatedBuilding | None
    floors: tuple[StatedFloor, ...]
    spaces: tuple[StatedSpace, ...]
    doors: Sequence[StatedDoor]
    faults: tuple[Wrong, ...]
    doors_read: int

    def packed(self) -> tuple[Any, ...]:
        """As JSON takes it on the way out of the child, with the doors as texts."""
        texts = [json.dumps(self.doors[at : at + AT_ONCE]) for at in range(0, len(self.doors), AT_ONCE)]
        return (self.building, self.floors, self.spaces, texts, self.faults, self.doors_read, len(self.doors))

    @classmethod
    def unpacked(cls, plain: Sequence[Any]) -> Self:
        """What came out of JSON, which knows lists alone; texts that repeat are kept once."""
        building, floors, spaces, texts, faults, read, count = plain
        once: dict[str, str] = {}

        def called(pair: Sequence[str]) -> Called:
            return Called(pair[0], once.setdefault(pair[1], pair[1]))

        return cls(
            StatedBuilding(building[0], called(building[1]), *building[2:]) if building else None,
            tuple(StatedFloor(row[0], called(row[1]), *row[2:]) for row in floors),
            tuple(StatedSpace(row[0], called(row[1]), *row[2:]) for row in spaces),
            PackedDoors(texts, count),
            tuple(Wrong(*row) for row in faults),
            read,
        )


def _door(row: Sequence[Any]) -> StatedDoor:
    number, pair, name, shown, floor, joined, facts, is_numbered = row
    return StatedDoor(number, Called(*pair), name, shown, floor, tuple(joined), tuple(facts), is_numbered)


def levels_of(elevations: Iterable[float | None]) -> list[int]:
    """Floors in their order from the ground, which is 0; cellars below it. Without a height, as they come.

    >>> levels_of([0, 9.25, 4.57, 0, -1]), levels_of([None, None]), levels_of([120.5, 123.7])
    ([0, 2, 1, 0, -1], [0, 1], [0, 1])
    """
    given = list(elevations)
    heights = [float(place) if height is None else height for place, height in enumerate(given)]
    order = sorted(set(heights))
    below = sum(height < 0 for height in order)
    return [order.index(height) - below for height in heights]
