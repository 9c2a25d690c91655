"""The exposure of a core against trying every bitting, and against the published number of trial cuts."""

from itertools import pairwise, product
from random import Random

import pytest

from pinning import Bitting, load, parse_any_bitting, parse_format, pin, to_mapping
from pinning.counting import amplification
from pinning.exposure import Leaner, expose, pinned_for, without_each
from tests.pinning import cases, oracle
from tests.pinning.published import figures
from tests.pinning.test_against_oracle import stacks_of

FIXED = load("fixed-6")


def key(text: str) -> Bitting:
    return parse_any_bitting(FIXED, text)


@pytest.mark.parametrize("seed", range(6))
def test_the_figures_equal_trying_every_bitting(seed: int) -> None:
    rng = Random(seed)
    for _ in range(150):
        format = cases.random_format(rng)
        core = cases.random_core(rng, format)
        planned = [
            parse_any_bitting(format, cases.random_text(rng, format)) for _ in range(rng.randint(0, 4))
        ]
        known = {each.cuts for each in planned}
        tried = oracle.Core(to_mapping(format), stacks_of(core))
        effects = {
            cuts: tried.what_turns(cuts) for cuts in product(format.depth_values, repeat=format.positions)
        }
        legal = [
            cuts
            for cuts in effects
            if format.macs is None or all(abs(a - b) <= format.macs for a, b in pairwise(cuts))
        ]
        found = expose(core, planned)
        assert found.accepts == sum(turns for turns, _, _ in effects.values())
        assert found.legal == sum(effects[cuts][0] for cuts in legal)
        assert found.unplanned == sum(effects[cuts][0] and cuts not in known for cuts in legal)
        assert found.withdrawing == sum(effects[cuts][1] for cuts in legal)
        assert found.wafers == sum(len(stack.masters) for stack in core.stacks)


@pytest.mark.parametrize("seed", range(4))
def test_a_core_without_its_idle_wafers_is_the_core_pinned_for_its_keys(seed: int) -> None:
    """Pinning the planned keys for real gives the box and the wafers that the argument promises."""
    rng, made = Random(seed), 0
    while made < 60:
        format = cases.random_format(rng)
        texts, control = cases.random_keys(rng, format)
        core = cases.tried(format, texts, control)
        if core is None or "-" in texts[0]:
            continue
        made += 1
        planned = [parse_any_bitting(format, text) for text in texts]
        found = expose(core, planned)
        assert found.idle_wafers == 0
        assert pinned_for(core, planned).wafers == found.wafers
        if found.idle:  # the top of a control pin may clear the operating line too
            assert found.accepts > pinned_for(core, planned).accepts
        else:
            assert found.accepts == pinned_for(core, planned).accepts
        again = cases.tried(format, texts[:1], control)
        if again is not None:  # the kit may lack a pin
            leaner = pinned_for(core, planned[:1])
            assert leaner.wafers == sum(len(stack.masters) for stack in again.stacks)
            assert leaner.accepts <= again.accepts


def test_wafers_that_serve_no_planned_key_are_named_by_position() -> None:
    core = pin(FIXED, ["333333", "335555", "555555"], None)
    found = expose(core, [key("333333"), key("335555")])
    assert (found.idle, found.idle_wafers) == (((1, 1), (2, 1)), 2)
    assert pinned_for(core, [key("333333"), key("335555")]) == Leaner(accepts=16, wafers=4)


def test_what_a_level_of_masters_costs() -> None:
    """Without its master a core takes its change key alone; without the top, both of the others' cuts."""
    core = pin(FIXED, ["335335", "335555", "555555"], None)
    groups = {"change": [key("335335")], "master": [key("335555")], "top": [key("555555")]}
    assert without_each(core, groups) == {
        "change": Leaner(accepts=4, wafers=2),
        "master": Leaner(accepts=16, wafers=4),
        "top": Leaner(accepts=4, wafers=2),
    }
    assert without_each(core, {"change": groups["change"]}) == {}


def test_five_positions_of_ten_depths_take_forty_five_trials() -> None:
    """IACR ePrint 2002/160."""
    case = figures("counts")["amplification"]
    ten = {"depths": "0123456789", "depth_values": list(range(10)), "macs": None, "step": 1}
    five = parse_format(to_mapping(FIXED) | ten | {"positions": 5})
    assert amplification(five) == (case["trials"], case["blanks"]) == (45, 5)
    assert expose(pin(five, ["33333", "55555"], None), []).trials == 45


@pytest.mark.parametrize("seed", range(6))
def test_trials_count_the_depths_that_a_master_can_have(seed: int) -> None:
    """By listing every master of the change key's series within the limit, beside those of nobody's."""
    rng = Random(seed)
    for _ in range(200):
        format = cases.random_format(rng)
        change = tuple(rng.choice(format.depth_values) for _ in range(format.positions))
        masters = [
            cuts
            for cuts in product(format.depth_values, repeat=format.positions)
            if all((a - b) % format.step == 0 for a, b in zip(cuts, change, strict=True))
            and (format.macs is None or all(abs(a - b) <= format.macs for a, b in pairwise(cuts)))
        ]
        depths = [set(column) for column in zip(*masters, strict=True)] or [set()] * format.positions
        expected = [len(column) - 1 for column in depths]
        if masters:
            trials, blanks = amplification(format, change)
            assert (trials, blanks) == (sum(expected), sum(number > 0 for number in expected))
