"""Lock charts: what comes out of a search, held against every bitting tried one by one."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
import pytest

from pinning import trials
from pinning.charts import Chart, ChartRules, parse_chart
from pinning.clashes import find_clash, only
from pinning.consequences import accepted, consequences
from pinning.crowding import crowded_lock
from pinning.errors import Refusals
from pinning.fields import Fields
from pinning.formats import CoreFormat, load, parse_format, to_mapping
from pinning.inclusion import trees
from pinning.searching import Progress
from pinning.solving import Checkpoint, proven, solve
from tests.pinning import chart_oracle, planted
from tests.pinning.chart_cases import as_json, random_chart, small_mapping

# How many random charts are held against all bittings; the usual run has time for a few.
CASES = int(os.environ.get("KEYCTL_CHART_CASES", "300"))
FIXED = load("fixed-6")


def parsed(format: CoreFormat, chart: dict[str, Any]) -> Chart | None:
    fields = Fields(chart, "input", Refusals(), ("keys", "locks", "rules", "control"))
    return parse_chart(format, fields)


def small(rng: Random, opens: list[list[int]], keys: int, **changes: Any) -> Chart:
    chart = Chart(
        FIXED,
        tuple(f"K{number}" for number in range(keys)),
        tuple(f"L{number}" for number in range(len(opens))),
        tuple(map(tuple, opens)),
        (frozenset(),) * len(opens),
    )
    return replace(chart, **changes)


def test_a_chart_is_solved_exactly_if_some_bittings_do_what_it_asks() -> None:
    rng, done = Random(int(os.environ.get("KEYCTL_CHART_SEED", "4"))), 0
    found = {"solved": 0, "impossible": 0}
    while done < CASES:
        format = parse_format(small_mapping(rng))
        shop = chart_oracle.Workshop(to_mapping(format))
        for _ in range(10):
            given = random_chart(rng, format)
            chart = parsed(format, given)
            if chart is None:
                continue
            done += 1
            found[_held_against_all(shop, chart, given, rng)] += 1
    assert min(found.values()) > CASES / 20


def _held_against_all(shop: chart_oracle.Workshop, chart: Chart, given: dict[str, Any], rng: Random) -> str:
    solution = solve(chart, 30, rng=rng)
    assert (solution.status == "solved") == chart_oracle.possible(shop, given), given
    if solution.status == "solved":
        read = {key: chart_oracle.read(shop.format, text) for key, text in solution.bittings.items()}
        control = None if solution.control is None else chart_oracle.read(shop.format, solution.control)
        assert chart_oracle.is_right(shop, given, read, control)
        assert chart_oracle.few_enough(given, read)
    elif rng.random() < 0.2:
        _clash_is_one(shop, chart, given, solution.ruled_out)
    return solution.status


def _clash_is_one(shop: chart_oracle.Workshop, chart: Chart, given: dict[str, Any], ruled_out: Any) -> None:
    """The set cannot be met, and can once any one of it is dropped."""
    clash = find_clash(chart, 30, ruled_out)
    assert clash.is_minimal
    alone = as_json(only(chart, clash.requirements))
    lone = {"keys": [{"id": "K"}], "locks": [{"id": "L", "opens": ["K"]}], "rules": given.get("rules")}
    if clash.requirements or chart_oracle.possible(shop, lone):
        assert alone["locks"] or alone["rules"]["distinct"]
        assert not chart_oracle.possible(shop, alone)
    for requirement in clash.requirements:
        fewer = as_json(only(chart, [each for each in clash.requirements if each != requirement]))
        assert not fewer["locks"] or chart_oracle.possible(shop, fewer)


def test_what_is_certain_beforehand_holds_in_every_answer() -> None:
    """A pair told as kept or certain cannot be avoided: with only it forbidden nothing does."""
    rng, seen = Random(8), 0
    while seen < 15:
        format = parse_format(small_mapping(rng))
        shop = chart_oracle.Workshop(to_mapping(format))
        chart = parsed(format, random_chart(rng, format))
        for each in [] if chart is None else consequences(chart):
            assert chart is not None
            lone = as_json(chart)
            for lock in lone["locks"]:
                lock["may"] = [
                    key["id"]
                    for key in lone["keys"]
                    if key["id"] not in lock["opens"] and (key["id"], lock["id"]) != (each.key, each.lock)
                ]
            assert each.reason in {"kept", "certain"}
            assert not chart_oracle.possible(shop, lone)
            seen += 1


@pytest.mark.parametrize("size", [planted.Size(2, 3, 8), planted.Size(3, 4, 12, common_doors=False)])
def test_a_hierarchy_with_cross_keying_and_keys_in_use_is_solved(size: planted.Size) -> None:
    chart = planted.planted(size, Random(3))
    solution = solve(chart, 60, rng=Random(1))
    assert solution.status == "solved"
    assert solution.control is not None
    for key, cuts in chart.fixed.items():
        assert solution.bittings[chart.keys[key]] == "".join(map(str, cuts))
    assert all(len(stack.masters) <= 2 for core in solution.pinnings.values() for stack in core.stacks)


@pytest.mark.parametrize("format", ["small-a2-6", "small-a4-6", "large-sleeve-34", "full-tip-6", "fixed-6"])
def test_every_construction_gets_its_chart(format: str) -> None:
    opens = [[0, 1, 2], [0, 1, 3], [0, 4, 5], [0, 4, 6], [0, 1, 4], [7]]
    chart = replace(small(Random(1), opens, 8), format=load(format), rules=ChartRules(distinct=True))
    solution = solve(chart, 60, rng=Random(2))
    assert solution.status == "solved"
    assert (solution.control is not None) == bool(load(format).sleeve)
    assert len(set(solution.bittings.values())) == 8


def test_a_referee_with_other_arithmetic_agrees_on_what_is_impossible() -> None:
    """CP-SAT on the plain statement of middle-sized charts: four positions, four depths, up to eight keys."""
    rng, found = Random(6), set()
    for _ in range(25):
        keys = rng.randint(4, 8)
        opens = [sorted(rng.sample(range(keys), rng.randint(1, 4))) for _ in range(rng.randint(4, 8))]
        mapping = to_mapping(FIXED) | {
            "positions": 4,
            "depths": "0123",
            "depth_values": [0, 1, 2, 3],
            "macs": 2,
        }
        mapping |= {
            "step": 1,
            "pins": {role: list(range(12)) for role in ("bottom", "master", "control", "top")},
        }
        chart = replace(small(rng, opens, keys), format=parse_format(mapping), rules=ChartRules(max_cuts=2))
        solved = solve(chart, 30, rng=Random(1)).status == "solved"
        assert solved == _by_cp_sat(chart)
        found.add(solved)
    assert found == {True, False}


def _by_cp_sat(chart: Chart) -> bool:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    cut = [[model.new_int_var(0, 3, "") for _ in range(4)] for _ in chart.keys]
    for row in cut:
        for one, two in pairwise(row):
            model.add_linear_constraint(one - two, -2, 2)
    for opens in chart.opens:
        _lock(model, cut, opens)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def _lock(model: Any, cut: list[list[Any]], opens: Sequence[int]) -> None:
    there = [[model.new_bool_var("") for _ in range(4)] for _ in range(4)]
    for place in range(4):
        model.add(sum(there[place]) <= 2)
        _only_own(model, [cut[key][place] for key in opens], there[place])
    for key, row in enumerate(cut):
        clears = [model.new_bool_var("") for _ in row]
        for place, clear in enumerate(clears):
            model.add_element(row[place], there[place], clear)
        if key in opens:
            model.add_bool_and(clears)
        else:
            model.add_bool_or([clear.negated() for clear in clears])


def _only_own(model: Any, cuts: list[Any], there: list[Any]) -> None:
    """A depth is in the lock only if one of its keys has it."""
    for depth, flag in enumerate(there):
        holders = []
        for cut in cuts:
            holds = model.new_bool_var("")
            model.add(cut == depth).only_enforce_if(holds)
            holders.append(holds)
        model.add_bool_or(holders).only_enforce_if(flag)


@pytest.mark.parametrize("distinct", [True, False])
def test_a_lock_with_too_many_keys_is_found_by_counting(distinct: bool) -> None:
    """Two positions of two cuts each tell four keys apart; a fifth is one too many, whatever is searched."""
    mapping = to_mapping(FIXED) | {"positions": 2, "depths": "0123", "depth_values": [0, 1, 2, 3], "step": 1}
    mapping |= {
        "macs": None,
        "pins": {role: list(range(14)) for role in ("bottom", "master", "control", "top")},
    }
    opens = [[0, 1, 2, 3, 4]] if distinct else [[0, 1, 2, 3, 4], *([key] for key in range(5))]
    rules = ChartRules(max_cuts=2, distinct=distinct)
    chart = replace(small(Random(1), opens, 5), format=parse_format(mapping), rules=rules)
    assert solve(chart, 5).status == "impossible"
    shop = chart_oracle.Workshop(to_mapping(chart.format))
    clash = find_clash(chart, 5, ())
    assert not chart_oracle.possible(shop, as_json(only(chart, clash.requirements)))
    fewer = replace(chart, opens=((0, 1, 2, 3), *chart.opens[1:]), may=(frozenset({4}), *chart.may[1:]))
    assert solve(fewer, 30, rng=Random(1)).status == "solved"


def test_counting_reads_a_chart_of_many_crowded_locks_once(monkeypatch: pytest.MonkeyPatch) -> None:
    reads = []

    def counted(chart: Chart, read: Callable[[Chart], list[list[int]]] = Chart.locks_of) -> list[list[int]]:
        reads.append(chart)
        return read(chart)

    monkeypatch.setattr(Chart, "locks_of", counted)
    rules, everyone = ChartRules(max_cuts=1), frozenset(range(3))
    chart = small(Random(1), [[0, 1, 2]] * 50, 3, rules=rules, may=(everyone,) * 50)
    assert crowded_lock(chart) is None
    assert len(reads) == 1


def test_of_very_many_failing_pairs_all_are_counted_and_some_are_listed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(trials, "MOST_LISTED", 5)
    keys = 40
    chart = small(Random(1), [[key] for key in range(keys)], keys, rules=ChartRules(distinct=True))
    number, pairs = trials.Examiner(chart).failures(trials.Trial(np.zeros((keys, 6), np.int64)))
    turning = [pair for pair in pairs if pair.what == "turns"]
    assert number == keys * (keys - 1) + keys - 1
    assert 1 <= len(turning) <= 5 * 8
    assert all(pair.one != pair.other for pair in turning)


def test_a_wrong_answer_never_leaves() -> None:
    chart = small(Random(1), [[0], [1]], 2)
    assert proven(chart, [(3,) * 6, (5,) * 6]) is not None
    assert proven(chart, [(3,) * 6, (3,) * 6]) is None
    assert proven(replace(chart, fixed={0: (1,) * 6}), [(3,) * 6, (5,) * 6]) is None
    distinct = replace(chart, rules=ChartRules(distinct=True), may=(frozenset({1}), frozenset({0})))
    assert proven(distinct, [(3,) * 6, (3,) * 6]) is None


def test_out_of_time_is_unknown_and_says_how_far_it_came() -> None:
    solution = solve(planted.planted(planted.Size(2, 3, 8), Random(3)), 0.0)
    assert solution.status == "unknown"
    assert solution.bittings == {}
    assert solution.reached is not None


class StopError(Exception):
    """What a watcher raises to end a search."""


def test_a_search_that_was_stopped_goes_on_from_its_checkpoint() -> None:
    chart = planted.planted(planted.Size(2, 3, 8), Random(3))
    checkpoint, seen = Checkpoint(), []

    def stop(progress: Progress) -> None:
        seen.append(progress)
        if progress.ruled_out > 20:
            raise StopError

    with pytest.raises(StopError):
        solve(chart, 60, stop, checkpoint, Random(1))
    kept = Checkpoint(checkpoint.to_mapping())
    assert len(kept.ruled_out) > 20
    assert kept.ruled_out == checkpoint.ruled_out
    begun = time.monotonic()
    assert solve(chart, 60, None, kept, Random(1)).status == "solved"
    assert time.monotonic() - begun < 60


def crossed() -> Chart:
    """Two masters with four doors each; the third key of the second opens a door of the first too."""
    opens = [[0, 1, 2 + n] for n in range(4)] + [[0, 6, 7 + n] for n in range(4)]
    opens[0].append(9)
    return small(Random(1), opens, 11)


def test_cross_keying_lets_the_other_master_in_and_is_told_before() -> None:
    told = consequences(crossed())
    assert [(each.reason, each.key, each.lock, each.by) for each in told] == [("layout", "K6", "L0", ("K9",))]
    chart = accepted(crossed(), told)
    assert consequences(chart) == []
    solution = solve(chart, 30, rng=Random(1))
    assert solution.status == "solved"
    assert ("K6", "L0") in {*solution.let_in, ("K6", "L0")}


def test_the_hierarchy_of_a_chart_is_read_from_what_its_keys_open() -> None:
    chart = planted.planted(planted.Size(2, 3, 8), Random(3))
    tree = trees(chart)[0]
    assert tree.top == 0
    assert [tree.depths.count(depth) for depth in range(4)] == [1, 2, 6, 48]
