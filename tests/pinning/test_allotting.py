"""Positions by need, against every deal there is and every key below it; and the groups of a page."""

from collections.abc import Callable
from itertools import pairwise, product
from math import prod
from random import Random

import pytest

from pinning import (
    Bitting,
    CoreFormat,
    Hierarchy,
    Place,
    Refused,
    Rules,
    allocate,
    allot,
    key_bitting_array,
    layout,
    least_rooms,
    load,
    masters_of,
    operating_cuts,
    parse_bitting,
    parse_format,
    pin,
    place_of,
    progress,
    propose_control,
    to_mapping,
)
from tests.pinning.published import figures

A2 = load("small-a2-6")
MASTER = parse_bitting(A2, "143254")
PAGE = figures("counts")["page"]


def small_format(positions: int, macs: int | None) -> CoreFormat:
    wide = to_mapping(A2) | {"depths": "01234", "depth_values": [0, 1, 2, 3, 4], "control": None, "step": 1}
    return parse_format(wide | {"total": {"plain": 20}, "positions": positions, "macs": macs})


def legal(cuts: tuple[int, ...], format: CoreFormat, rules: Rules) -> bool:
    return (format.macs is None or all(abs(a - b) <= format.macs for a, b in pairwise(cuts))) and (
        rules.max_equal is None or max(map(cuts.count, cuts)) <= rules.max_equal
    )


def fits(tree: Hierarchy, held: tuple[int, ...], groups: list[tuple[int, ...]], needs: list[int]) -> bool:
    """Walks down a tree's format, array and rules: the keys below one are listed, and the first so many of
    them looked below.
    """
    if not groups:
        return True
    array = tree.array
    columns = [array[place] if place + 1 in groups[0] else (cut,) for place, cut in enumerate(held)]
    order = [place for place in range(len(held)) if place + 1 in groups[0]]
    found = sorted(
        (cuts for cuts in product(*columns) if legal(cuts, tree.format, tree.rules)),
        key=lambda cuts: [array[place].index(cuts[place]) for place in order],
    )[: needs[0]]
    return len(found) == needs[0] and all(fits(tree, cuts, groups[1:], needs[1:]) for cuts in found)


def every_deal(positions: int, levels: int) -> list[list[tuple[int, ...]]]:
    deals = []
    for levels_of in product(range(levels + 1), repeat=positions):
        groups = [
            tuple(place + 1 for place in range(positions) if levels_of[place] == level)
            for level in range(levels)
        ]
        if all(groups):
            deals.append(groups)
    return deals


@pytest.mark.parametrize("seed", range(6))
def test_it_finds_a_deal_of_the_fewest_positions_or_there_is_none(seed: int) -> None:
    rng = Random(seed)
    for _ in range(60):
        format = small_format(rng.randint(2, 4), rng.choice([None, 1, 2, 3]))
        rules = Rules(max_equal=rng.choice([None, None, 2]))
        master = legal_master(rng, format)
        array = [rng.sample(full, rng.randint(1, 4)) for full in key_bitting_array(format, master)]
        needs = [rng.choice([1, 2, 3, 4, 6, 9]) for _ in range(rng.randint(1, min(3, format.positions)))]
        whole = allocate(format, master, [[1]], array, rules=rules)
        possible = [
            groups
            for groups in every_deal(format.positions, len(needs))
            if fits(whole, master.cuts, groups, needs)
        ]
        if not possible:
            with pytest.raises(Refused) as refused:
                allot(format, master, needs, array, rules)
            assert [reason.code for reason in refused.value.refusals] == ["needs"]
            continue
        found = [tuple(sorted(group)) for group in allot(format, master, needs, array, rules)]
        assert found in possible
        assert sum(map(len, found)) == min(sum(map(len, groups)) for groups in possible)


def legal_master(rng: Random, format: CoreFormat) -> Bitting:
    while True:
        text = "".join(rng.choice(format.depths) for _ in range(format.positions))
        if legal(tuple(map(int, text)), format, Rules()):
            return parse_bitting(format, text)


def test_it_says_what_would_fit() -> None:
    seven = load("small-a2-7")
    with pytest.raises(Refused, match="below each key of the last level but one 64 would fit, not 65"):
        allot(seven, parse_bitting(seven, "1432541"), [16, 16, 65])
    with pytest.raises(Refused, match="ask for fewer levels or keys"):
        allot(seven, parse_bitting(seven, "1432541"), [4**7, 1])


def test_a_search_that_takes_too_long_is_refused() -> None:
    wide = parse_format(to_mapping(A2) | {"positions": 16, "control": None, "total": {"plain": 23}})
    master = parse_bitting(wide, "1" * 16)
    with pytest.raises(Refused) as refused:
        allot(wide, master, [5, 5, 5, 4**14, 5])
    assert [reason.code for reason in refused.value.refusals] == ["too_large"]


def test_seven_positions_hold_16_384_changes_below_two_levels_of_masters() -> None:
    """4^7 by total position progression in a two-step system (Keynotes, A2/A3/A4 comparison)."""
    seven = load("small-a2-7")
    groups = allot(seven, parse_bitting(seven, "1432541"), [4, 16, 256])
    assert [len(group) for group in groups] == [1, 2, 4]
    assert 4 * 16 * 256 == 16_384


@pytest.mark.parametrize("seed", range(4))
def test_rooms_are_those_of_every_key_above(seed: int) -> None:
    rng = Random(seed)
    for _ in range(60):
        format = small_format(4, rng.choice([None, 1, 2, 3]))
        master = legal_master(rng, format)
        tree = allocate(format, master, [[1], [3, 2], [4]], rules=Rules(max_equal=rng.choice([None, 2])))
        children = [rng.randint(1, 3), rng.randint(1, 4), 1]
        for level, found in enumerate(least_rooms(tree, children)):
            paths = [path for path, _ in tree.walk(children) if len(path) == level]
            rooms = [len(list(tree.children(path).usable())) for path in paths]
            assert found == (min(rooms, default=0), max(rooms, default=0), sum(rooms))


def test_the_walk_gives_every_key_after_the_one_above_it() -> None:
    tree = allocate(load("fixed-6"), parse_bitting(load("fixed-6"), "143254"), [[1], [2, 3], [6, 5, 4]])
    walked = dict(tree.walk([2, 3, 4]))
    assert len(walked) == 1 + 2 + 6 + 24
    seen: set[tuple[int, ...]] = set()
    for path, key in walked.items():
        assert path == () or path[:-1] in seen
        assert key == tree.bitting(path)
        seen.add(path)


def test_the_keys_of_rotating_levels_do_not_turn_each_others_cores() -> None:
    tree = allocate(A2, MASTER, [[2, 1], [6, 5, 4, 3]], constants=[1, 2])
    control = propose_control(A2, MASTER, Random(1), tree.array)
    keys = dict(tree.walk([8, 20]))
    changes = {path: key for path, key in keys.items() if len(path) == 2}
    assert len(changes) == 8 * 20
    for path in list(changes)[::7]:
        line = [keys[path[:depth]] for depth in range(3)]
        box = operating_cuts(pin(A2, line, control))
        turning = [
            other
            for other, key in keys.items()
            if all(cut in column for cut, column in zip(key.cuts, box, strict=True))
        ]
        assert turning == [(), path[:1], path]


def test_a_page_holds_the_published_changes() -> None:
    found = layout(progress(load(PAGE["format"]), parse_bitting(load(PAGE["format"]), PAGE["master"])))
    assert found.page == PAGE["changes"] == 64
    assert (found.pages, found.vertical_groups, found.blocks, found.block) == (64, 4, 16, 4)
    one = progress(A2, MASTER, sequence=PAGE["positions"])
    assert layout(one).pages == 1


GROUP_OF: dict[str, Callable[[Place], object]] = {
    "page": lambda place: place.page,
    "vertical group": lambda place: (place.page, place.vertical_group),
    "horizontal group": lambda place: (place.page, place.horizontal_group),
    "block": lambda place: (place.page, place.block),
    "row": lambda place: (place.page, place.row),
}


@pytest.mark.parametrize("name", GROUP_OF)
def test_a_groups_master_turns_the_cores_of_its_group_and_no_other(name: str) -> None:
    """Of the changes of two pages, each in a core of its own: exactly those of the group take its master."""
    keys = progress(A2, MASTER, sequence=[6, 5, 4, 3])
    changes = list(keys.between(0, 128))
    for index in (0, 37, 100):
        master = masters_of(keys, index)[name]
        turned = [
            number
            for number, change in enumerate(changes)
            if all(m in (c, own) for m, c, own in zip(master.cuts, change.cuts, MASTER.cuts, strict=True))
        ]
        group = GROUP_OF[name]
        expected = [n for n in range(128) if group(place_of(keys, n)) == group(place_of(keys, index))]
        assert turned == expected
        assert len(expected) == {"page": 64, "block": 4, "row": 4}.get(name, 16)


def test_places_tell_all_changes_of_a_page_apart() -> None:
    keys = progress(A2, MASTER)
    places = [place_of(keys, index) for index in range(192)]
    assert len({(place.page, place.block, place.row) for place in places}) == 192
    assert prod([layout(keys).pages, layout(keys).blocks, layout(keys).block]) == keys.total
