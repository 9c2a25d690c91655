"""What stands on a page: blocks of words and grids, measured in points. A block is never parted."""

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from keyctl.lib.language import Text
from keyctl.prints.press.face import width_of

LEADING = 1.25
# Above and below the lines of a row, and between two parts, in parts of the size.
PADDING = 0.4
GAP = 12.0
# What a box to tick takes before its words, and the way to the next one, in parts of the size.
BOX_AND_GAP = 3.2
# What a heading and two lines of words take of a page.
HEADING = 96.0

Lines = tuple[str, ...]


@dataclass(frozen=True)
class Words:
    """One line; ``tag`` is what it is to a reader aloud."""

    text: str
    size: float = 8.5
    is_bold: bool = False
    tag: str = "P"

    @property
    def height(self) -> float:
        return self.size * (LEADING + PADDING)

    @property
    def texts(self) -> Iterator[str]:
        yield self.text


@dataclass(frozen=True)
class Boxes:
    """Boxes to tick with a pen, each before its words."""

    labels: tuple[str, ...]
    size: float = 8.5

    @property
    def height(self) -> float:
        return self.size * 2.2

    @property
    def width(self) -> float:
        return sum(self.size * BOX_AND_GAP + width_of(label, self.size) for label in self.labels)

    @property
    def texts(self) -> Iterator[str]:
        yield from self.labels

    def fitting(self, width: float) -> "Boxes":
        """Beside each other, smaller where their words are longer."""
        return replace(self, size=min(self.size, self.size * width / self.width))


@dataclass(frozen=True)
class Column:
    """``width`` is in signs, the space to the next column included."""

    title: Text
    width: int


@dataclass(frozen=True)
class Grid:
    """A table. The cells of the columns ``heads`` say what their row is about.

    ``spoken`` has words for signs that are read aloud badly; titles from column ``upwards`` on are written
    from below, where the columns are narrower than their titles.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[Lines, ...], ...]
    heads: frozenset[int] = frozenset({0})
    size: float = 9.0
    upwards: int | None = None
    spoken: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def titles(self) -> tuple[Lines, ...]:
        return tuple(
            (str(column.title),) if self.is_turned(nth) else wrapped(column.title, column.width)
            for nth, column in enumerate(self.columns)
        )

    def is_turned(self, nth: int) -> bool:
        return self.upwards is not None and nth >= self.upwards

    @cached_property
    def head_height(self) -> float:
        lines = max(
            (len(title) for nth, title in enumerate(self.titles) if not self.is_turned(nth)), default=1
        )
        turned = [
            width_of(title[0], self.size) for nth, title in enumerate(self.titles) if self.is_turned(nth)
        ]
        return max(self.line * lines, *turned, 0.0) + self.padding * 2

    @property
    def line(self) -> float:
        return self.size * LEADING

    @property
    def padding(self) -> float:
        return self.size * PADDING

    def row_height(self, row: tuple[Lines, ...]) -> float:
        return max(map(len, row), default=1) * self.line + self.padding

    @property
    def height(self) -> float:
        return self.head_height + sum(map(self.row_height, self.rows))

    @property
    def width(self) -> float:
        return width_of("n" * sum(column.width for column in self.columns), self.size)

    @property
    def texts(self) -> Iterator[str]:
        for row in (self.titles, *self.rows):
            for cell in row:
                yield from cell


@dataclass(frozen=True)
class Code:
    """What a camera reads, as wide as ``side`` with its quiet zone; ``words`` is read aloud."""

    text: str
    side: float
    words: str


@dataclass(frozen=True)
class Block:
    parts: tuple[Words | Grid | Boxes, ...]
    code: Code | None = None

    @property
    def height(self) -> float:
        own = sum(part.height for part in self.parts)
        return max(own, self.code.side if self.code else 0.0) + GAP


@dataclass(frozen=True)
class Area:
    """The part of one page that is set here."""

    height: float
    blocks: tuple[Block, ...]

    @property
    def texts(self) -> Iterator[str]:
        for block in self.blocks:
            for part in block.parts:
                yield from part.texts


def wrapped(text: Text, width: int) -> Lines:
    """The lines of a cell; what is too long for its column goes on below itself."""
    if len(text) < width and not text[:1].isspace():
        return (str(text),)
    return tuple(textwrap.wrap(" ".join(text.split()), max(1, width - 1))) or ("",)


def rows_of(columns: Sequence[Column], rows: Iterable[Sequence[str]]) -> tuple[tuple[Lines, ...], ...]:
    widths = [column.width for column in columns]
    return tuple(tuple(wrapped(text, width) for text, width in zip(row, widths, strict=True)) for row in rows)


def fitting(columns: Sequence[Column], width: float, largest: float) -> float:
    """The largest size at which the columns stand beside each other."""
    return min(largest, width / width_of("n" * sum(column.width for column in columns), 1.0))


def loose(blocks: Iterable[Block]) -> list[Area]:
    """Each block for itself: they fill the pages among what else stands there, and none is parted."""
    return [Area(block.height, (block,)) for block in blocks]


def stacked(blocks: Iterable[Block], height: float, first: float | None = None) -> Iterator[Area]:
    """The blocks one below another; as many areas as they need. ``first`` is what the first page has left."""
    room, held = height if first is None else first, list[Block]()
    for block in blocks:
        if held and sum(each.height for each in held) + block.height > room:
            yield Area(room, tuple(held))
            room, held = height, []
        held.append(block)
    if held:
        yield Area(room, tuple(held))


def parted(grid: Grid, height: float, first: float | None = None) -> Iterator[Area]:
    """A long table as one for each page, each under its titles; ``first`` is what the first page has left."""
    room = height if first is None else first
    left, held = room - grid.head_height - GAP, list[tuple[Lines, ...]]()
    for row in grid.rows:
        needed = grid.row_height(row)
        if held and needed > left:
            yield _part(grid, room, held)
            room, held = height, []
            left = room - grid.head_height - GAP
        held.append(row)
        left -= needed
    if held:
        yield _part(grid, room, held)


def flowing(grid: Grid, height: float) -> list[Area]:
    """A short table stays among what else is on its page; a long one begins a page, below its heading."""
    whole = Block((grid,))
    if whole.height * 2 < height:
        return [Area(whole.height, (whole,))] if grid.rows else []
    return list(parted(grid, height, height - HEADING))


def _part(grid: Grid, room: float, rows: list[tuple[Lines, ...]]) -> Area:
    return Area(room, (Block((replace(grid, rows=tuple(rows)),)),))
