"""Things in layers from left to right, lines between neighbours: places for a picture, with few crossings.

Each layer is put in the order of its neighbours' mean height, there and back a few times (the barycentre
rule); what stands for "and so many more" stays last. Everything is in whole pixels.
"""

from bisect import bisect_right, insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NODE_WIDTH, NODE_HEIGHT = 190, 50
GAP, BETWEEN = 10, 44
MARGIN, HEADS = 6, 26
SWEEPS = 3
# What a node has room for, in letters of one width.
MOST_SIGNS, MOST_ABOVE = 20, 23


@dataclass(frozen=True)
class Node:
    """``sign`` says in a word what it is, ``words`` which; ``note`` stands beside the sign."""

    key: str
    layer: int
    sign: str
    words: str
    note: str = ""
    url: str = ""
    is_rest: bool = False

    @property
    def short(self) -> str:
        return self.words if len(self.words) <= MOST_SIGNS else f"{self.words[: MOST_SIGNS - 1]}…"

    @property
    def above(self) -> str:
        """Sign and note; where both are too long the note says more."""
        whole = f"{self.sign}, {self.note}" if self.note else self.sign
        return whole if len(whole) <= MOST_ABOVE else (self.note or self.sign)[:MOST_ABOVE]


@dataclass(frozen=True)
class Edge:
    """From a node to one in the next layer; the style is a way of drawing it: plain, broken or dotted."""

    source: str
    target: str
    style: str = "plain"


@dataclass(frozen=True)
class Placed:
    node: Node
    x: int
    y: int
    width: int = NODE_WIDTH
    height: int = NODE_HEIGHT

    @property
    def middle(self) -> int:
        return self.y + self.height // 2

    @property
    def sign_x(self) -> int:
        return self.x + 10

    @property
    def sign_y(self) -> int:
        return self.y + 19

    @property
    def words_y(self) -> int:
        return self.y + 38


@dataclass(frozen=True)
class Curve:
    edge: Edge
    path: str


@dataclass(frozen=True)
class Layers:
    width: int
    height: int
    heads: tuple[tuple[int, str], ...]
    nodes: tuple[Placed, ...]
    curves: tuple[Curve, ...]


def arrange(heads: Sequence[str], nodes: Sequence[Node], edges: Sequence[Edge]) -> Layers:
    columns = _ordered(
        [[node for node in nodes if node.layer == layer] for layer in range(len(heads))], edges
    )
    tallest = max((len(column) for column in columns), default=0)
    inside = tallest * (NODE_HEIGHT + GAP) - GAP
    placed = {
        node.key: Placed(node, _left(node.layer), MARGIN + HEADS + _top(len(column), inside) + _pitch(place))
        for column in columns
        for place, node in enumerate(column)
    }
    return Layers(
        width=_left(len(heads) - 1) + NODE_WIDTH + MARGIN,
        height=inside + HEADS + 2 * MARGIN,
        heads=tuple((_left(layer), words) for layer, words in enumerate(heads)),
        nodes=tuple(placed.values()),
        curves=tuple(Curve(edge, _path(placed[edge.source], placed[edge.target])) for edge in edges),
    )


def crossings(columns: Sequence[Sequence[Node]], edges: Sequence[Edge]) -> int:
    """How many pairs of lines cross, in these orders: inversions, layer by layer."""
    place = _places(columns)
    layer = {node.key: node.layer for column in columns for node in column}
    found, above = 0, dict[int, list[int]]()
    for _source, target, start in sorted((place[e.source], place[e.target], layer[e.source]) for e in edges):
        seen = above.setdefault(start, [])
        found += len(seen) - bisect_right(seen, target)
        insort(seen, target)
    return found


def _ordered(columns: list[list[Node]], edges: Sequence[Edge]) -> list[list[Node]]:
    """The best of the orders that the sweeps went through, the first one among them."""
    best, fewest = columns, crossings(columns, edges)
    for sweep in range(2 * SWEEPS):
        columns = _swept(columns, edges, forward=sweep % 2 == 0)
        found = crossings(columns, edges)
        if found < fewest:
            best, fewest = columns, found
    return best


def _swept(columns: Sequence[Sequence[Node]], edges: Sequence[Edge], *, forward: bool) -> list[list[Node]]:
    swept = [list(column) for column in columns]
    for layer in range(len(swept)) if forward else reversed(range(len(swept))):
        place = _places(swept)
        neighbours: dict[str, list[int]] = {}
        for edge in edges:
            here, there = (edge.target, edge.source) if forward else (edge.source, edge.target)
            neighbours.setdefault(here, []).append(place[there])
        swept[layer].sort(key=lambda node: (node.is_rest, _mean(neighbours.get(node.key), place[node.key])))
    return swept


def _mean(places: Sequence[int] | None, own: int) -> float:
    return sum(places) / len(places) if places else own


def _places(columns: Iterable[Iterable[Node]]) -> dict[str, int]:
    return {node.key: place for column in columns for place, node in enumerate(column)}


def _left(layer: int) -> int:
    return MARGIN + layer * (NODE_WIDTH + BETWEEN)


def _pitch(place: int) -> int:
    return place * (NODE_HEIGHT + GAP)


def _top(count: int, inside: int) -> int:
    """Where a layer begins, so that it stands in the middle."""
    return (inside - count * (NODE_HEIGHT + GAP) + GAP) // 2


def _path(source: Placed, target: Placed) -> str:
    right, half = source.x + source.width, BETWEEN // 2
    bend = f"{right + half} {source.middle} {target.x - half} {target.middle}"
    return f"M{right} {source.middle}C{bend} {target.x} {target.middle}"
