"""What others have published, checked against what the package computes. Sources stand in the data files."""

from itertools import pairwise, product
from typing import Any

import pytest

from pinning import (
    Refused,
    allocate,
    amplification,
    count_bittings,
    decode,
    key_symbol,
    legal_bittings,
    load,
    parse_bitting,
    parse_format,
    parse_stacks,
    parse_symbol,
    pin,
    progress,
    rotating_constant,
    to_mapping,
    turn,
)
from tests.pinning.published import entries, figures

COUNTS = figures("counts")
SYSTEMS = entries("small-format", "system")


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system["id"])
@pytest.mark.parametrize("positions", [5, 6, 7])
def test_a_small_format_has_the_published_figures(system: dict[str, Any], positions: int) -> None:
    format = load(f"small-{system['id']}-{positions}")
    assert (format.positions, format.increment_in, format.step) == (
        positions,
        system["increment_in"],
        system["step"],
    )
    assert format.depth_values == tuple(range(system["depths"]))
    assert (format.total.sleeve, format.addition) == (system["total"], system["addition"])


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system["id"])
def test_the_sleeve_is_an_eighth_of_an_inch_thick(system: dict[str, Any]) -> None:
    format = load(f"small-{system['id']}-6")
    assert format.addition * format.increment_in == pytest.approx(system["sleeve_in"])


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system["id"])
def test_a_column_is_about_four_tenths_of_an_inch_long(system: dict[str, Any]) -> None:
    """'About 0.4 inch, the same in every position' is common practice, no source."""
    format = load(f"small-{system['id']}-6")
    assert format.total.sleeve is not None
    assert format.length_in(format.total.sleeve) == pytest.approx(system["column_in"])
    assert format.length_in(format.total.sleeve) == pytest.approx(0.4, abs=0.005)


@pytest.mark.parametrize("case", entries("small-format", "refused"), ids=lambda case: case["what"])
def test_a_pin_that_no_kit_has_is_refused(case: dict[str, Any]) -> None:
    with pytest.raises(Refused) as refused:
        pin(load(case["format"]), case["operating"], case["control"])
    found = [(reason.code, reason.position) for reason in refused.value.refusals]
    assert ("unbuildable", case["position"]) in found
    assert case["role"] in str(refused.value)


def test_a_stack_of_the_right_length_can_still_be_impossible() -> None:
    case = figures("small-format")["impossible_stack"]
    format = load(case["format"])
    stacks = [case["stack"] | {"position": position} for position in range(1, format.positions + 1)]
    core = parse_stacks(format, stacks)
    assert {stack.total for stack in core.stacks} == {case["adds_up_to"]} == {format.total.sleeve}
    with pytest.raises(Refused, match=f"control cut of {case['control_cut']}") as refused:
        decode(core)
    assert {reason.code for reason in refused.value.refusals} == {"control_cut"}


def test_two_keys_on_six_positions_let_in_sixty_two_others() -> None:
    case = COUNTS["minimum_pinning"]
    core = pin(load(case["format"]), case["operating"], None)
    assert core.accepts == case["accepts"] == case["unplanned"] + len(case["operating"])


@pytest.mark.parametrize("case", COUNTS["progression"], ids=lambda case: case["format"])
def test_total_position_progression_gives_the_published_changes(case: dict[str, Any]) -> None:
    format = load(case["format"])
    progression = progress(format, parse_bitting(format, case["master"]))
    assert (progression.total, progression.usable_total) == (case["changes"], case["changes"])


def test_a_page_under_a_three_pin_master_holds_sixty_four_changes() -> None:
    case = COUNTS["page"]
    format = load(case["format"])
    page = progress(format, parse_bitting(format, case["master"]), sequence=case["positions"])
    assert len(list(page.usable())) == case["changes"]


def test_four_positions_make_four_levels_of_masters_and_changes() -> None:
    case = COUNTS["four_levels"]
    format = load(case["format"])
    tree = allocate(format, parse_bitting(format, case["master"]), case["groups"])
    paths: list[tuple[int, ...]] = [()]
    for expected in case["keys"]:
        paths = [(*path, index) for path in paths for index in range(tree.children_total(path))]
        assert len({tree.bitting(path).text for path in paths}) == expected


def test_the_rotating_constant_gives_the_published_changes() -> None:
    case = COUNTS["rotating_constant"]
    changes = [rotating_constant(case["positions"], case["depths"], held) for held in range(1, 6)]
    assert changes == case["changes"]


@pytest.mark.parametrize("case", COUNTS["legal"], ids=lambda case: str(case["positions"]))
def test_legal_bittings_are_counted(case: dict[str, Any]) -> None:
    cuts = [range(case["depths"])] * case["positions"]
    assert count_bittings(cuts, case["macs"]) == case["count"]


def test_the_shortest_of_these_counts_is_found_by_listing_them_all() -> None:
    case = COUNTS["legal"][0]
    listed = product(range(case["depths"]), repeat=case["positions"])
    legal = sum(all(abs(a - b) <= case["macs"] for a, b in pairwise(cuts)) for cuts in listed)
    assert legal == case["count"]


def test_a_format_counts_its_legal_bittings() -> None:
    assert legal_bittings(load("fixed-6")) == COUNTS["legal"][1]["count"]


def test_a_change_key_and_its_core_give_the_master_away_in_few_trials() -> None:
    case = COUNTS["amplification"]
    five = to_mapping(load("fixed-6")) | {"positions": case["positions"]}
    assert amplification(parse_format(five)) == (case["trials"], case["blanks"])


@pytest.mark.parametrize("case", COUNTS["driver"], ids=lambda case: f"driver {case['pin']}")
def test_the_driver_follows_the_plug_total(case: dict[str, Any]) -> None:
    format = load("fixed-6")
    for plug_total in case["plug_totals"]:
        core = pin(format, [str(plug_total) * format.positions], None)
        assert {stack.top for stack in core.stacks} == {case["pin"]}


@pytest.mark.parametrize("case", entries("symbols", "symbol"), ids=lambda case: case["text"])
def test_a_symbol_is_written_and_read_as_the_standard_does(case: dict[str, Any]) -> None:
    assert key_symbol(case["levels"], case["path"]) == case["text"]
    read = parse_symbol(case["levels"], case["text"])
    path = read.path if read.number is None else (*read.path, read.number - 1)
    assert path == tuple(case["path"])


def test_rotating_a_change_key_through_one_core_finds_the_master() -> None:
    """IACR ePrint 2002/160, carried out: trial cuts one position at a time show the master's cuts."""
    format = load("fixed-6")
    core = pin(format, ["424242", "646464"], None)
    own = parse_bitting(format, "424242").cuts
    found = [
        [depth for depth in format.depth_values if turn(core, _with(own, place, depth)).operates]
        for place in range(format.positions)
    ]
    assert found == [[4, 6], [2, 4], [4, 6], [2, 4], [4, 6], [2, 4]]


def _with(cuts: tuple[int, ...], place: int, depth: int) -> Any:
    from pinning import bitting_of

    return bitting_of(load("fixed-6"), [*cuts[:place], depth, *cuts[place + 1 :]])


def test_every_published_entry_names_its_source() -> None:
    for name in ("small-format", "counts"):
        for entry in figures(name).values():
            for row in entry if isinstance(entry, list) else [entry]:
                assert row["source"]
