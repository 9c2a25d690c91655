"""Buildings as blocks with a bar for each floor, stacked by state; the lowest floor stands at the bottom."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from keyctl.lib.numbers import as_number
from keyctl.maps.questions import Question, State
from keyctl.maps.selectors.places import BuildingCounts, FloorCounts
from keyctl.places.models import Building, Floor

WIDTH, MARGIN, LABELS, TOTALS = 760, 12, 128, 64
# A row is as high as a finger needs.
HEAD, ROW, BAR, GAP = 32, 48, 28, 20
LEAST = 4
# A letter and a figure of so many digits need so much of a bar.
SIGN, PAD = 9, 10
LONGEST_LABEL, LONGEST_NAME = 14, 70


@dataclass(frozen=True)
class Piece:
    x: int
    width: int
    state: State
    doors: int
    words: str

    @property
    def middle(self) -> int:
        return self.x + self.width // 2


@dataclass(frozen=True)
class Row:
    floor: Floor
    y: int
    label: str
    pieces: list[Piece]
    doors: int
    bar: int = BAR
    height: int = ROW

    @property
    def bar_y(self) -> int:
        return self.y + (ROW - BAR) // 2

    @property
    def baseline(self) -> int:
        return self.y + ROW // 2 + 5


@dataclass(frozen=True)
class Block:
    building: Building
    words: str
    y: int
    height: int
    rows: list[Row]

    @property
    def baseline(self) -> int:
        return self.y + 21


@dataclass(frozen=True)
class Bars:
    blocks: list[Block]
    height: int
    looks: list[str]
    width: int = WIDTH
    margin: int = MARGIN
    labels: int = MARGIN + 8
    right: int = WIDTH - MARGIN - 8
    inner: int = WIDTH - 2 * MARGIN


def draw_bars(question: Question, counted: Sequence[BuildingCounts]) -> Bars:
    """One scale for all bars, so that a short bar is a small floor."""
    most = max((floor.doors for each in counted for floor in each.floors), default=0)
    blocks, y = [], MARGIN
    for each in counted:
        block = _block(question, each, y, most)
        blocks.append(block)
        y += block.height + GAP
    return Bars(blocks, y, looks_of(question))


def looks_of(question: Question) -> list[str]:
    """The patterns that a picture of the question needs."""
    return sorted({state.look for state in question.states})


def _block(question: Question, counted: BuildingCounts, y: int, most: int) -> Block:
    upwards = list(reversed(counted.floors))
    rows = [_row(question, floor, y + HEAD + ROW * nth, most) for nth, floor in enumerate(upwards)]
    words = shortened(f"{counted.building.code}, {counted.building}", LONGEST_NAME)
    return Block(counted.building, words, y, HEAD + ROW * len(rows) + 4, rows)


def _row(question: Question, floor: FloorCounts, y: int, most: int) -> Row:
    pieces = list(_pieces(question, floor.counts, most))
    return Row(floor.floor, y, shortened(str(floor.floor), LONGEST_LABEL), pieces, floor.doors)


def _pieces(question: Question, counts: Counter[str], most: int) -> Iterator[Piece]:
    """Each as wide as its share of the fullest floor; the rarest is still seen."""
    x, room = MARGIN + LABELS, WIDTH - 2 * MARGIN - LABELS - TOTALS
    for state in question.states:
        if doors := counts[state.code]:
            width = max(round(doors / most * room), LEAST)
            yield Piece(x, width, state, doors, _fitting(state, doors, width))
            x += width


def _fitting(state: State, doors: int, width: int) -> str:
    """As much as stands in the piece: letter and figure, the letter, or nothing."""
    for words in (f"{state.letter} {as_number(doors)}", state.letter):
        if len(words) * SIGN + PAD <= width:
            return words
    return ""


def shortened(words: str, longest: int) -> str:
    return words if len(words) <= longest else f"{words[: longest - 1]}…"
