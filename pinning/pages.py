"""Pages and what is on them: how a progression is laid out on paper, in the trade's words.

The first three positions of the sequence make a page. Its changes stand in blocks: a block runs through the
fastest position and holds the two others. The blocks below each other are a vertical group, which runs
through the two fastest positions; those beside each other are a horizontal group, which runs through the
first and the third; the changes of one line across the page are a row, which runs through the third alone.
Each of these has a master key that carries the top master's cut where the group runs: one pin for a block and
a row, two for the groups, three for the page. Sources: the page of 64 changes under a three-pin master, LIST
Council glossary; page, column and block masters of three, two and one pins, Keynotes 2014-09 p.11;
horizontal group and row, common practice.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.progression import progress
>>> a2 = load("small-a2-6")
>>> keys = progress(a2, parse_bitting(a2, "143254"))
>>> layout(keys)
Layout(pages=64, page=64, vertical_groups=4, horizontal_groups=4, blocks=16, block=4)
>>> place_of(keys, 64 + 6)
Place(page=2, vertical_group=1, horizontal_group=2, block=2, row=7)
>>> {name: master.text for name, master in masters_of(keys, 0).items()}["page"]
'301254'
"""

from dataclasses import dataclass

from pinning.bittings import Bitting
from pinning.progression import Progression, of_cuts

__all__ = ["GROUPS", "Layout", "Place", "layout", "masters_of", "place_of"]

# By name, which places of the sequence the changes of a group run through.
GROUPS = {
    "block": (0,),
    "row": (2,),
    "vertical group": (0, 1),
    "horizontal group": (0, 2),
    "page": (0, 1, 2),
}


@dataclass(frozen=True, slots=True)
class Layout:
    """How many pages there are, and on each how many changes, groups and blocks; the changes of a block."""

    pages: int
    page: int
    vertical_groups: int
    horizontal_groups: int
    blocks: int
    block: int


@dataclass(frozen=True, slots=True)
class Place:
    """Where a change stands, each counted from 1: its page, and on that page its groups, block and row."""

    page: int
    vertical_group: int
    horizontal_group: int
    block: int
    row: int


def layout(keys: Progression) -> Layout:
    """The pages of a progression; one of fewer than three positions makes a part of a page."""
    fast, second, third = _sizes(keys)
    page = fast * second * third
    return Layout(keys.total // page if page else 0, page, third, second, second * third, fast)


def place_of(keys: Progression, index: int) -> Place:
    """Where the bitting of that index stands."""
    fast, second, third = _sizes(keys)
    page, on_page = divmod(index, fast * second * third)
    group, in_group = divmod(on_page, fast * second)
    block, line = divmod(in_group, fast)
    return Place(page + 1, group + 1, block + 1, group * second + block + 1, block * fast + line + 1)


def masters_of(keys: Progression, index: int) -> dict[str, Bitting]:
    """By name the master keys of the groups that the bitting of that index is in."""
    cuts = keys[index].cuts
    found: dict[str, Bitting] = {}
    for name, places in GROUPS.items():
        run = {keys.sequence[place] for place in places if place < len(keys.sequence)}
        held = [
            own if place + 1 in run else cut
            for place, (cut, own) in enumerate(zip(cuts, keys.held.cuts, strict=True))
        ]
        found[name] = of_cuts(keys.format, tuple(held))
    return found


def _sizes(keys: Progression) -> tuple[int, int, int]:
    """The cuts of the three fastest positions; 1 where there is none."""
    columns = [len(keys.array[position - 1]) for position in keys.sequence[:3]] + [1, 1, 1]
    return columns[0], columns[1], columns[2]
