"""The self-proof in words, against figures from outside the project and a count of our own by hand."""

from dataclasses import replace

from keyctl import engine
from keyctl.formats.proof import SelfProof, self_proof, symbols_text
from tests.keyctl.formats.shop import TEN_IS_NOUGHT


def proof_of(format_id: str) -> SelfProof:
    return self_proof(engine.load_format(format_id))


def test_a2_cannot_have_a_control_pin_of_one() -> None:
    """No. 1 wafers are in no A2 kit (Keynotes 2016-09 p.50): control 0 under operating 9 wants one."""
    (finding,) = [each for each in proof_of("small-a2-7").findings if "control pin of 1 " in each.reason]
    assert finding.cuts == ("operating 9 with control 0",)
    assert (finding.where, finding.count) == ("Positions 1-7", 7)


def test_a4_cannot_have_a_control_pin_of_eleven() -> None:
    """A4 wafers come in 1-10 (Keynotes 2024-10 p.55): control 5 under operating 0 wants one of 11."""
    (finding,) = proof_of("small-a4-6").findings
    assert "control pin of 11 is needed" in finding.reason
    assert finding.cuts == ("operating 0 with control 5",)


def test_every_cut_of_every_position_is_tried() -> None:
    """Ten operating by ten control cuts in each of seven positions."""
    proof = proof_of("small-a2-7")
    assert (proof.tried, proof.possible, proof.impossible) == (700, 693, 7)


def test_an_ordinary_cylinder_can_be_built_throughout() -> None:
    proof = proof_of("fixed-6")
    assert (proof.tried, proof.impossible, proof.findings) == (60, 0, ())


def test_a_missing_bottom_pin_is_told_where_and_for_which_cut() -> None:
    """By hand: cut 3 in three positions outside the sleeve, and with ten control cuts in two under it."""
    pins = TEN_IS_NOUGHT["pins"] | {"bottom": [1, 2, 4, 5, 6, 7, 8, 9, 10]}
    proof = self_proof(engine.parse_format(TEN_IS_NOUGHT | {"pins": pins}))
    found = [
        (each.where, each.cuts, each.count) for each in proof.findings if "bottom pin of 3" in each.reason
    ]
    assert found == [
        ("Positions 1, 4-5", ("operating 3",), 3),
        ("Positions 2-3", ("operating 3 with control 1-0",), 20),
    ]


def test_cuts_are_told_by_their_symbols() -> None:
    ten = engine.parse_format(TEN_IS_NOUGHT)
    assert symbols_text(ten, [1, 2, 3, 10]) == "1-3, 0"
    letters = replace(ten, depths="ABCDEFGHIJ")
    assert symbols_text(letters, [2, 9, 10]) == "B, I-J"


def test_pins_that_miss_by_different_sizes_are_told_together() -> None:
    """By hand: total 24 less addition 11 leaves 13 less the control cut; a kit of 5-12 lacks 3 and 4."""
    pins = TEN_IS_NOUGHT["pins"] | {"top": list(range(5, 13))}
    proof = self_proof(engine.parse_format(TEN_IS_NOUGHT | {"pins": pins}))
    (told,) = [each for each in proof.findings if each.where == "Positions 2-3"]
    assert "A top pin of 3-4 is needed, and the kit has 5-12" in told.reason
    assert told.cuts == ("operating 1-0 with control 9-0",)
    assert told.count == 2 * 20


def test_sizes_that_no_pin_can_have_are_told_as_one() -> None:
    """By hand: total 18 less addition 11 leaves 7 less the control cut, so cuts of 7 to ten want 0 to -3."""
    figures = TEN_IS_NOUGHT | {"total": {"plain": 12, "sleeve": 18}}
    told = [each for each in self_proof(engine.parse_format(figures)).findings if "top pin" in each.reason]
    assert [each.cuts for each in told] == [("operating 1-0 with control 7-0",)]
    assert "A top pin of 0 or less is needed" in told[0].reason


def test_sizes_on_both_sides_of_the_kit_are_told_in_one_sentence() -> None:
    """By hand: a control pin is addition plus control cut less operating cut, so 2 to 20 or -1 to 17."""
    pins = TEN_IS_NOUGHT["pins"] | {"control": list(range(4, 19))}
    told = self_proof(engine.parse_format(TEN_IS_NOUGHT | {"pins": pins})).findings
    assert ["A control pin of 2-3, 19-20 is needed" in each.reason for each in told] == [True]
    pins |= {"control": list(range(4, 16))}
    figures = TEN_IS_NOUGHT | {"control": TEN_IS_NOUGHT["control"] | {"addition": 8}, "pins": pins}
    told = self_proof(engine.parse_format(figures)).findings
    assert any("A control pin of 3 or less, or 16-17, is needed" in each.reason for each in told)
