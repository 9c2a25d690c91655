"""Drawing the blocks of an area: operators of a page (ISO 32000-1, annex A), each marked with what it is.

All is measured from the area's upper left corner; the page's own origin is its lower left one.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from keyctl.prints.press.blocks import BOX_AND_GAP, LEADING, Area, Block, Boxes, Code, Grid, Words
from keyctl.prints.press.codes import modules_of
from keyctl.prints.press.embedding import FONT
from keyctl.prints.press.face import Face, covers, width_of
from keyctl.prints.press.tree import PageTree, string

# Where the letters stand in their line, in parts of the size.
BASELINE = 0.95
HAIRLINE, RULE = 0.35, 0.9
# Of lines between rows.
GREY = 0.55
COLUMN_HEAD = "/A<</O/Table/Scope/Column>>"
ROW_HEAD = "/A<</O/Table/Scope/Row>>"


@dataclass
class Pen:
    """Writes one area, at ``left`` and ``top`` of its page."""

    face: Face
    tree: PageTree
    left: float
    top: float
    width: float
    lines: list[str] = field(default_factory=list)

    def area(self, area: Area, parent: Any) -> str:
        down = 0.0
        for block in area.blocks:
            self.block(block, down, self.tree.node("Sect", parent))
            down += block.height
        return "\n".join(self.lines)

    def block(self, block: Block, down: float, parent: Any) -> None:
        for part in block.parts:
            if isinstance(part, Words):
                self.words(part, down, parent)
            elif isinstance(part, Grid):
                self.grid(part, down, self.tree.node("Table", parent))
            else:
                self.boxes(part, down, parent)
            down += part.height
            if block.code and part is block.parts[0]:
                self.code(block.code, down - part.height, parent)

    def words(self, words: Words, down: float, parent: Any) -> None:
        number = self.tree.leaf(words.tag, parent)
        shown = self._shown(words.text, words.size, 0, down + words.size * BASELINE)
        self.lines.append(_marked(words.tag, number, _bold(shown) if words.is_bold else shown))

    def boxes(self, boxes: Boxes, down: float, parent: Any) -> None:
        """The squares are for a pen, and nothing to read."""
        across, size = 0.0, boxes.size
        for label in boxes.labels:
            base = down + size * 1.3
            self._artifact(f"0.8 w {self._x(across):.2f} {self._y(base):.2f} {size:.2f} {size:.2f} re S")
            number = self.tree.leaf("P", parent)
            self.lines.append(
                _marked("P", number, self._shown(label, size, across + size * 1.5, base - size * 0.1))
            )
            across += size * BOX_AND_GAP + width_of(label, size)

    def grid(self, grid: Grid, down: float, parent: Any) -> None:
        self._head(grid, down, self.tree.node("TR", self.tree.node("THead", parent)))
        down += grid.head_height
        edges, body = [(down, RULE)], self.tree.node("TBody", parent)
        for row in grid.rows:
            self._row(grid, row, down, self.tree.node("TR", body))
            down += grid.row_height(row)
            edges.append((down, HAIRLINE))
        self._rules(edges, min(self.width, grid.width))
        if grid.upwards is not None:
            self._uprights(grid, grid.upwards, down)

    def _head(self, grid: Grid, down: float, row: Any) -> None:
        across, foot = 0.0, down + grid.head_height - grid.padding
        for nth, (column, lines) in enumerate(zip(grid.columns, grid.titles, strict=True)):
            number = self.tree.leaf("TH", row, COLUMN_HEAD)
            if grid.is_turned(nth):
                shown = self._upwards(lines[0], grid.size, across + grid.size, foot)
            else:
                shown = self._lines(lines, grid, across, foot - len(lines) * grid.line)
            self.lines.append(_marked("TH", number, _bold(shown)))
            across += width_of("n" * column.width, grid.size)

    def _row(self, grid: Grid, row: tuple[tuple[str, ...], ...], down: float, parent: Any) -> None:
        across = 0.0
        for nth, (column, lines) in enumerate(zip(grid.columns, row, strict=True)):
            kind, extra = ("TH", ROW_HEAD) if nth in grid.heads else ("TD", "")
            if lines[0] in grid.spoken:
                extra += f"/ActualText{string(grid.spoken[lines[0]])}"
            if lines == ("",):
                self.tree.node(kind, parent, extra)
            else:
                number = self.tree.leaf(kind, parent, extra)
                self.lines.append(
                    _marked(kind, number, self._lines(lines, grid, across, down + grid.padding / 2))
                )
            across += width_of("n" * column.width, grid.size)

    def _lines(self, lines: tuple[str, ...], grid: Grid, across: float, down: float) -> str:
        base = down + grid.size * BASELINE
        return "\n".join(
            self._shown(line, grid.size, across, base + nth * grid.size * LEADING)
            for nth, line in enumerate(lines)
        )

    def code(self, code: Code, down: float, parent: Any) -> None:
        left, top = self.left + self.width - code.side, self._y(down)
        box = f"{left:.2f} {top - code.side:.2f} {left + code.side:.2f} {top:.2f}"
        extra = f"/Alt{string(code.words)}/A<</O/Layout/BBox[{box}]>>"
        number = self.tree.leaf("Figure", parent, extra)
        modules = modules_of(code)
        side = code.side / len(modules)
        squares = " ".join(
            f"{left + start * side:.3f} {top - (nth + 1) * side:.3f} {length * side:.3f} {side:.3f} re"
            for nth, row in enumerate(modules)
            for start, length in _runs(row)
        )
        self.lines.append(_marked("Figure", number, f"{squares} f"))

    def _rules(self, edges: list[tuple[float, float]], width: float) -> None:
        start, end = self.left, self.left + width
        lines = [
            f"{0 if weight == RULE else GREY} G {weight} w {start:.2f} {y:.2f} m {end:.2f} {y:.2f} l S"
            for y, weight in ((self._y(down), weight) for down, weight in edges)
        ]
        self._artifact(" ".join(lines))

    def _uprights(self, grid: Grid, first: int, down: float) -> None:
        """Between narrow columns, so that the eye finds the way up to their titles."""
        high = sum(map(grid.row_height, grid.rows))
        before = width_of("n" * sum(column.width for column in grid.columns[:first]), grid.size)
        step = width_of("n" * grid.columns[first].width, grid.size)
        lines = [
            f"{x:.2f} {self._y(down):.2f} m {x:.2f} {self._y(down - high):.2f} l S"
            for x in (self._x(before - 2 + nth * step) for nth in range(len(grid.columns) - first + 1))
        ]
        self._artifact(f"{GREY} G {HAIRLINE} w " + " ".join(lines))

    def _artifact(self, drawn: str) -> None:
        self.lines.append(f"/Artifact BMC q {drawn} Q EMC")

    def _shown(self, text: str, size: float, across: float, base: float) -> str:
        if not covers(text):
            return ""
        place = f"1 0 0 1 {self._x(across):.2f} {self._y(base):.2f} Tm"
        return f"BT {FONT} {size} Tf {place} <{self.face.hexed(text)}> Tj ET"

    def _upwards(self, text: str, size: float, across: float, base: float) -> str:
        if not covers(text):
            return ""
        place = f"0 1 -1 0 {self._x(across):.2f} {self._y(base):.2f} Tm"
        return f"BT {FONT} {size} Tf {place} <{self.face.hexed(text)}> Tj ET"

    def _x(self, across: float) -> float:
        return self.left + across

    def _y(self, down: float) -> float:
        return self.top - down


def _bold(shown: str) -> str:
    """The letters with an outline: one face serves for both."""
    return f"q 2 Tr 0.35 w {shown} Q"


def _marked(tag: str, number: int, drawn: str) -> str:
    return f"/{tag}<</MCID {number}>>BDC {drawn} EMC"


def _runs(row: bytes) -> Iterator[tuple[int, int]]:
    """Where the dark runs of a row of modules begin, and how long they are."""
    start = None
    for at, module in enumerate((*row, 0)):
        if module and start is None:
            start = at
        elif not module and start is not None:
            yield start, at - start
            start = None
