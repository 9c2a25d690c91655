"""Names and places for the keys of a reconstructed system: the tree that its levels and keys make."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

from keyctl import engine

LONGEST_SYMBOL = 20


@dataclass(frozen=True, slots=True)
class NamedKey:
    symbol: str
    bitting: str = field(repr=False)
    is_master: bool
    parent: str | None
    level: int
    ordinal: int


@dataclass(frozen=True, slots=True)
class _Node:
    """A key before it is named; `above` is the place of its master in the list, None for the top."""

    bitting: str = field(repr=False)
    is_master: bool
    above: int | None
    name: str = ""


def named_keys(
    again: engine.Reconstructed, candidate: int, keys: Mapping[str, str]
) -> tuple[int, list[NamedKey]]:
    """(levels, keys from the top down). A key in circulation keeps its name where a symbol can be that long;
    the others get standard symbols. Masters below the top are only known for the first candidate.
    """
    nodes = _nodes(again, candidate, keys)
    depths: list[int] = []
    for node in nodes:
        depths.append(0 if node.above is None else depths[node.above] + 1)
    # Below a master there is always a level for its changes.
    levels = max(depth + (2 if node.is_master else 1) for node, depth in zip(nodes, depths, strict=True))
    taken = {node.name for node in nodes if node.name}
    paths: list[tuple[int, ...]] = []
    children: dict[int | None, int] = defaultdict(int)
    named: list[NamedKey] = []
    for node, depth in zip(nodes, depths, strict=True):
        ordinal = children[node.above]
        children[node.above] += 1
        path = () if node.above is None else (*paths[node.above], ordinal)
        paths.append(path)
        symbol = node.name or _symbol(levels, path, node.is_master, taken)
        taken.add(symbol)
        above = None if node.above is None else named[node.above].symbol
        named.append(NamedKey(symbol, node.bitting, node.is_master, above, depth, ordinal))
    return levels, named


def _nodes(again: engine.Reconstructed, candidate: int, keys: Mapping[str, str]) -> list[_Node]:
    found = again.found
    top = found.candidates[candidate].bitting
    names = {text: name for name, text in keys.items() if len(name) <= LONGEST_SYMBOL}
    nodes = [_Node(top.text, True, None, names.get(top.text, ""))]
    masters = again.levels.masters if candidate == 0 else ()
    placed: dict[int, int] = {}
    for place, master in enumerate(masters):
        above = 0 if master.above is None else placed[master.above]
        if _depth(nodes, above) + 2 >= engine.MOST_LEVELS:
            above = 0
        placed[place] = len(nodes)
        nodes.append(_Node(master.bitting.text, True, above, names.get(master.bitting.text, "")))
    known = {node.bitting for node in nodes}
    for name, turned, what in found.key_parts:
        if what == "unknown" or keys[name] in known:
            continue
        known.add(keys[name])
        is_master = what == "master"
        over = [placed[place] for place, master in enumerate(masters) if set(turned) & set(master.members)]
        nodes.append(_Node(keys[name], is_master, max(over, default=0), names.get(keys[name], "")))
    return nodes


def _depth(nodes: list[_Node], place: int) -> int:
    above = nodes[place].above
    return 0 if above is None else _depth(nodes, above) + 1


def _symbol(levels: int, path: tuple[int, ...], is_master: bool, taken: set[str]) -> str:
    """The standard symbol for that place, or the next one that is free."""
    *line, last = path or (0,)
    while True:
        tried = (*line, last) if path else ()
        symbol = engine.symbol_for(levels, tried, is_master=is_master)
        if symbol not in taken:
            return symbol
        if not path:
            return f"{symbol} TOP"
        last += 1
