"""The dry run: every conflict of every row is told by its cell, and never by its cuts."""

from typing import Any

import pytest

from keyctl.cores.models import Core
from keyctl.inherited.models import BittingList
from keyctl.systems.models import KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.inherited.lists import ROWS, as_workbook, brought, checked, findings

pytestmark = pytest.mark.django_db

TOP, ONE, TWO, CONTROL = ROWS[0], ROWS[1], ROWS[2], ROWS[4]


@pytest.mark.parametrize(
    ("rows", "place", "words"),
    [
        ([["", "361492", "", "", ""]], "A2", "no key symbol"),
        ([["A" * 21, "361492", "", "", ""]], "A2", "longer than 20"),
        ([["AA", "", "", "", ""]], "B2", "no bitting"),
        ([["AA", "36149", "", "", ""]], "B2", "5 cuts are given for 6 positions. If zeros in front"),
        ([["AA", "3614921", "", "", ""]], "B2", "7 cuts are given for 6 positions."),
        ([["AA", "36149x", "", "", ""]], "B2", "Position 6 is no depth"),
        ([["AA", '="061492"', "", "", ""]], "B2", "formula"),
        ([["AA", "361492", "", "grand", ""]], "D2", "kind is not known"),
        ([TOP, ["AA", "583614", "", "", ""]], "A3", "stands in row 2 too"),
        ([TOP, ["1AA", "361492", "", "", ""]], "B3", "stands in row 2 too (AA)"),
        ([TOP, CONTROL, ["CTR2", "743811", "", "control", ""]], "A4", "gives a control key already"),
        ([TOP, ["CTR", "361492", "", "", ""]], "B2", "cut like the control key in row 3"),
        ([["1AA", "583614", "AB", "", ""]], "C2", "AB is neither in the list nor in the system"),
        ([TOP, ["CTR", "743810", "AA", "", ""]], "C3", "stands under no master"),
        ([TOP, ONE, ["X", "705278", "1AA", "", ""]], "C4", "1AA is a change key"),
        ([["A", "361492", "B", "", ""], ["B", "583614", "A", "", ""]], "C2", "lead back to itself"),
        ([["A", "361492", "A", "", ""]], "C2", "lead back to itself"),
        ([TOP, ["1AA", "683614", "AA", "", ""]], "B3", "Position 1: its cuts and those of AA"),
        ([["9AA", "", "", "", "Door 1"]], "A2", "9AA is neither in the list"),
        ([TOP, ["CTR", "743810", "", "", "Door 1"]], "E3", "keyed to operating keys"),
    ],
)
def test_an_error_names_its_cell_and_says_what_to_do(
    cast: Cast, rows: list[list[str]], place: str, words: str
) -> None:
    listed = checked(cast, rows)
    errors = [(cell, text) for cell, is_error, text in findings(listed) if is_error]
    assert any(cell == place and words in text for cell, text in errors), errors
    assert listed.errors == len(errors)
    shown = " ".join(text for _, text in errors)
    assert not any(row[1] and row[1] in shown for row in rows)


def test_too_many_levels_are_told(cast: Cast) -> None:
    cuts = ["361492", "561492", "581492", "583492", "583692", "583612", "583614"]
    rows = [[f"K{n}", text, f"K{n - 1}" if n else "", "", ""] for n, text in enumerate(cuts)]
    assert [(cell, text) for cell, is_error, text in findings(checked(cast, rows)) if is_error] == [
        ("C8", "It stands on level 7; the system has 6.")
    ]


def test_the_adjacent_cut_limit_is_told_without_the_cuts(cast: Cast) -> None:
    listed = checked(cast, [["AA", "910000", "", "", ""]], format_id="fixed-6", keyway="WF")
    assert findings(listed) == [("B2", True, "Positions 1 and 2 lie further apart than the limit of 7.")]


def test_a_format_without_a_sleeve_takes_no_control_key(cast: Cast) -> None:
    listed = checked(cast, [["AA", "333333", "", "", ""], ["CTR", "555555", "", "", ""]], format_id="fixed-6")
    assert [place for place, is_error, _ in findings(listed) if is_error] == ["A3"]


def test_a_number_that_lost_its_zeros_names_the_cell_and_the_remedy(cast: Cast) -> None:
    rows: list[list[Any]] = [["Symbol", "Bitting"], ["AA", 61492], ["1AA", "583614"], ["2AA", 705278]]
    content = as_workbook(rows)
    listed = checked(cast, [], content=content, name="list.xlsx")
    [(place, is_error, text)] = [found for found in findings(listed) if found[1]]
    assert (place, is_error) == ("B2", True)
    assert "number of 5 digits" in text
    assert "Format the column as text" in text


def system_of(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.locksmith)


def into(cast: Cast, system: KeySystem, *rows: list[str]) -> BittingList:
    return checked(cast, list(rows), system=system)


def test_keys_that_the_system_has_are_told(cast: Cast) -> None:
    system = system_of(cast)
    change, control = factories.symbol(system, "AB1"), factories.symbol(system, "CTR")
    listed = into(
        cast,
        system,
        ["AB1", "0000000", "AB", "", ""],
        ["Z1", bitting_of(change), "AB", "", ""],
        ["Z2", bitting_of(control), "AB", "", ""],
        ["CTR2", "1111111", "", "control", ""],
        ["Z3", "", "", "", "Door 1"],
    )
    errors = {place: text for place, is_error, text in findings(listed) if is_error}
    assert "has a key of this symbol already" in errors["A2"]
    assert f"cut like AB1, which {system.code} has already" in errors["B3"]
    assert "the control key of" in errors["B4"]
    assert "has a control key already" in errors["A5"]
    assert "Z3 is neither" in errors["A6"]


def varied(text: str, place: int) -> str:
    """Another key of the same series, one position off."""
    cut = next(d for d in "0123456789" if d != text[place] and (int(d) - int(text[place])) % 2 == 0)
    return text[:place] + cut + text[place + 1 :]


def test_a_key_that_turns_pinned_cores_is_told_with_one_of_them(cast: Cast) -> None:
    system = system_of(cast)
    key = factories.symbol(system, "AB1")
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    master, own = bitting_of(factories.symbol(system, "A")), bitting_of(key)
    place = next(n for n in range(7) if master[n] != own[n])
    mixed = own[:place] + master[place] + own[place + 1 :]  # takes the master's cut in one position
    listed = into(cast, system, ["Z1", mixed, "A", "", ""])
    told = [text for place, is_error, text in findings(listed) if not is_error and place == "B2"]
    assert f"It turns core {core}, keyed to other keys." in told


def test_a_key_like_one_of_another_system_on_the_keyway_is_told(cast: Cast) -> None:
    first = system_of(cast)
    second = factories.make_system(cast.north, actor=cast.locksmith, keyway=first.keyway, levels=(((1,), 1),))
    text = bitting_of(factories.symbol(first, "AB2"))
    listed = into(cast, second, ["Z1", text, "", "", ""])
    assert any(f"cut like AB2 of {first.code}" in text for _, _, text in findings(listed))


def test_a_list_is_no_way_to_ask_for_the_keys_of_another_site(cast: Cast) -> None:
    away = factories.make_system(cast.south, actor=cast.stranger)
    key = factories.symbol(away, "AB1")
    factories.make_core(actor=cast.stranger, site=cast.south, system=away, symbols=[key])
    rows = [["Z1", bitting_of(key), "", "", ""]]
    listed = checked(cast, rows, keyway=away.keyway, format_id=away.format_id)
    assert [text for _, _, text in findings(listed) if "control key" not in text] == []


def test_a_core_to_come_that_other_keys_turn_is_told(cast: Cast) -> None:
    # Both doors are of one master; the third key takes one cut from each of the others.
    rows = [TOP, ONE, ["2AA", "361614", "AA", "", ""], CONTROL]
    listed = checked(cast, rows)
    warnings = {place: text for place, is_error, text in findings(listed) if not is_error}
    assert "turned by 2AA, which nobody means" in warnings["B3"]


def test_a_key_outside_the_array_of_a_designed_system_is_told(cast: Cast) -> None:
    system = system_of(cast)
    top = bitting_of(factories.symbol(system, "A"))
    odd = str((int(top[0]) + 1) % 10) + top[1:]
    listed = into(cast, system, ["Z1", odd, "", "", ""])
    assert any("outside the array" in text and "position 1" in text for _, _, text in findings(listed))


def test_a_core_on_record_is_left_as_it_is(cast: Cast) -> None:
    system = system_of(cast)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    listed = into(cast, system, ["AB1", "", "", "", str(core)])
    assert [(place, text[:4]) for place, _, text in findings(listed)] == [("E2", "A co")]


def test_masters_of_a_stored_system_are_kept_in_a_row_with_its_lines(cast: Cast) -> None:
    """A new change below a stored master gets the whole line above it, and a level of its own."""
    system = system_of(cast)
    text = varied(bitting_of(factories.symbol(system, "AB1")), 6)
    listed = into(cast, system, ["AB7", text, "AB", "", ""])
    assert listed.errors == 0
    deep = into(cast, system, ["AB7", text, "AB1", "", ""])
    assert any(is_error and "AB1 is a change key" in said for _, is_error, said in findings(deep))


def test_nothing_is_written_by_a_check(cast: Cast) -> None:
    system = system_of(cast)
    before = system.symbols.count()
    into(cast, system, ["Z1", "0000000", "", "", "Door 1"])
    assert system.symbols.count() == before
    assert not Core.objects.exists()


def test_the_columns_are_guessed_and_remembered_for_the_site(cast: Cast) -> None:
    listed = brought(cast)
    assert listed.columns == {"symbol": 0, "bitting": 1, "parent": 2, "kind": 3, "core": 4}
    bare = brought(cast, ROWS, header=False, code="OLD4")
    assert bare.has_header is False
    assert bare.columns["bitting"] == 1
    assert bare.columns["symbol"] == 0
