"""Progressions and hierarchies, listed in full where they are small enough."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from random import Random
from typing import Any

import pytest

from pinning import (
    Hierarchy,
    Refused,
    allocate,
    key_bitting_array,
    load,
    parse_bitting,
    parse_format,
    pin,
    progress,
    propose_master,
    to_mapping,
    turn,
)
from pinning.rules import Rules
from tests.pinning import cases

A2 = load("small-a2-6")
FIXED = load("fixed-6")
MASTER = parse_bitting(FIXED, "143254")
TREE = allocate(FIXED, MASTER, [[1], [2, 3], [4, 5, 6]])


def codes(call: Any, *arguments: Any, **named: Any) -> set[str]:
    with pytest.raises(Refused) as refused:
        call(*arguments, **named)
    return {reason.code for reason in refused.value.refusals}


def test_a_change_key_never_carries_a_masters_cut_nor_one_of_another_series() -> None:
    array = key_bitting_array(FIXED, MASTER)
    assert array[0] == (3, 5, 7, 9)
    assert array[1] == (0, 2, 6, 8)


def test_the_first_position_of_the_sequence_changes_fastest() -> None:
    progression = progress(A2, parse_bitting(A2, "143254"), sequence=[2, 1, 3, 4, 5, 6])
    assert [progression[index].text[:2] for index in range(5)] == ["30", "32", "36", "38", "50"]


def test_a_progression_lists_every_combination_once() -> None:
    progression = progress(A2, parse_bitting(A2, "143254"))
    assert len({bitting.text for bitting in progression.usable()}) == progression.total == 4096


def test_usable_bittings_keep_the_adjacent_cut_limit_and_are_counted_exactly() -> None:
    progression = progress(FIXED, MASTER)
    allowed = list(product(*key_bitting_array(FIXED, MASTER)))
    legal = [cuts for cuts in allowed if all(abs(cuts[n] - cuts[n + 1]) <= 7 for n in range(5))]
    assert {bitting.cuts for bitting in progression.usable()} == set(legal)
    assert progression.usable_total == len(legal) < progression.total


@pytest.mark.parametrize("seed", range(20))
def test_a_proposed_master_can_be_cut_and_carries_a_progression(seed: int) -> None:
    master = propose_master(FIXED, Random(seed))
    assert parse_bitting(FIXED, master.text) == master
    assert progress(FIXED, master).usable_total > 0


def test_an_index_outside_a_progression_is_an_index_error() -> None:
    progression = progress(FIXED, MASTER)
    for index in (-1, progression.total):
        with pytest.raises(IndexError):
            progression[index]
    with pytest.raises(IndexError):
        progression.nth_usable(progression.usable_total)


def test_without_positions_to_progress_the_first_usable_bitting_is_the_only_one() -> None:
    keys = progress(FIXED, MASTER, sequence=[], rules=Rules(max_run=2))
    assert keys.nth_usable(0) == MASTER
    with pytest.raises(IndexError):
        keys.nth_usable(1)
    with pytest.raises(IndexError):
        progress(FIXED, MASTER, sequence=[], rules=Rules(min_distinct=6)).nth_usable(0)


@pytest.mark.parametrize("seed", range(30))
def test_counts_of_any_progression_are_exact(seed: int) -> None:
    rng = Random(seed)
    format = replace(cases.random_format(rng), macs=rng.choice([1, 2, 3]))
    master = parse_bitting(format, rng.choice(format.depths) * format.positions)
    sequence = rng.sample(range(1, format.positions + 1), rng.randint(0, format.positions))
    progression = progress(format, master, sequence=sequence)
    assert progression.usable_total == len(list(progression.usable()))


def paths(tree: Hierarchy, levels: int) -> Iterator[tuple[int, ...]]:
    if levels == 0:
        yield ()
        return
    for path in paths(tree, levels - 1):
        yield from ((*path, index) for index in range(tree.children_total(path)))


def test_a_key_fixes_its_levels_positions_and_those_above_and_keeps_the_masters_below() -> None:
    for path in paths(TREE, 2):
        key, above = TREE.bitting(path).cuts, TREE.bitting(path[:1]).cuts
        assert key[0] == above[0] != MASTER.cuts[0]
        assert all(key[place] != MASTER.cuts[place] for place in (1, 2))
        assert key[3:] == MASTER.cuts[3:]


def test_every_key_of_a_hierarchy_can_be_cut_and_is_another() -> None:
    tree = allocate(FIXED, MASTER, [[1], [2], [3, 4]])
    found = [tree.bitting(path).text for levels in (0, 1, 2, 3) for path in paths(tree, levels)]
    assert len(set(found)) == len(found)
    assert all(parse_bitting(FIXED, text) for text in found)


def test_a_core_pinned_to_a_path_takes_the_keys_on_it_and_no_other_of_the_tree() -> None:
    tree = allocate(A2, parse_bitting(A2, "143254"), [[1], [2], [3]])
    lines = list(paths(tree, 3))
    keys = {path: tree.bitting(path) for path in lines}
    above = [tree.bitting(lines[5][:level]) for level in range(3)]
    core = pin(A2, [*above, keys[lines[5]]], "222222")
    assert [path for path in lines if turn(core, keys[path]).operates] == [lines[5]]
    assert all(turn(core, master).operates for master in above)


def test_there_is_no_key_below_the_last_level_nor_past_the_last_index() -> None:
    for path in ((0, 0, 0, 0), (9,), (0, 99)):
        with pytest.raises(IndexError):
            TREE.bitting(path)
    with pytest.raises(IndexError):
        TREE.children((0, 0, 0))


@pytest.mark.parametrize(
    ("groups", "code"),
    [([[1], [1]], "groups"), ([[7]], "groups"), ([[0]], "groups"), ([[1], []], "groups")],
)
def test_it_refuses_groups_that_are_no_allocation(groups: list[list[int]], code: str) -> None:
    assert codes(allocate, FIXED, MASTER, groups) == {code}


def test_it_refuses_an_array_with_a_masters_cut_or_another_series() -> None:
    array = [list(column) for column in key_bitting_array(FIXED, MASTER)]
    array[0] += [1, 2]
    assert codes(progress, FIXED, MASTER, array) == {"array"}
    assert codes(progress, FIXED, MASTER, array[1:]) >= {"array"}


def test_it_refuses_a_sequence_that_names_a_position_twice() -> None:
    assert codes(progress, FIXED, MASTER, sequence=[1, 1]) == {"sequence"}


def test_it_refuses_a_master_that_cannot_be_cut() -> None:
    loose = parse_format(to_mapping(FIXED) | {"macs": None})
    assert codes(progress, FIXED, parse_bitting(loose, "119111")) == {"macs"}
