"""Doors as cells in rows: the floors of a small building, or the groups of one floor."""

from collections.abc import Sequence
from dataclasses import dataclass

from keyctl.maps.bars import looks_of, shortened
from keyctl.maps.questions import Question, State
from keyctl.maps.selectors.places import Group, MappedDoor

WIDTH, MARGIN = 760, 12
# A cell is as large as a finger needs.
CELL, PITCH, HEAD, GAP = 48, 52, 26, 12
ACROSS = (WIDTH - 2 * MARGIN) // PITCH
LONGEST_NUMBER, LONGEST_NAME = 6, 80


@dataclass(frozen=True)
class Cell:
    x: int
    y: int
    door: MappedDoor
    label: str

    @property
    def middle(self) -> int:
        return self.x + CELL // 2

    @property
    def baseline(self) -> int:
        return self.y + 43

    @property
    def mark_y(self) -> int:
        return self.y + 13


@dataclass(frozen=True)
class Line:
    """A floor or a group, with what is written over its cells."""

    words: str
    y: int
    cells: list[Cell]

    @property
    def baseline(self) -> int:
        return self.y + 17


@dataclass(frozen=True)
class Cells:
    lines: list[Line]
    height: int
    looks: list[str]
    states: list[State]
    width: int = WIDTH
    margin: int = MARGIN
    size: int = CELL


def draw_cells(question: Question, groups: Sequence[Group]) -> Cells:
    lines, y = [], MARGIN
    for group in groups:
        head = HEAD if group.words else 0
        cells = [_cell(door, nth, y + head) for nth, door in enumerate(group.doors)]
        lines.append(Line(shortened(group.words, LONGEST_NAME), y, cells))
        y += head + PITCH * -(-len(cells) // ACROSS) + GAP
    present = {cell.door.state.code for line in lines for cell in line.cells}
    states = [state for state in question.states if state.code in present]
    return Cells(lines, y, looks_of(question), states)


def _cell(door: MappedDoor, nth: int, top: int) -> Cell:
    x, y = MARGIN + PITCH * (nth % ACROSS), top + PITCH * (nth // ACROSS)
    return Cell(x, y, door, shortened(door.number, LONGEST_NUMBER))
