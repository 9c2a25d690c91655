"""What several cores say together, without any database."""

from keyctl.recovery.findings import Finding, common_cuts, contradictions, signs

SLEEVE = Finding(pins=(), cuts=((4,), (7,), (1,)))


def test_cores_with_the_same_cuts_agree() -> None:
    assert contradictions([SLEEVE, SLEEVE]) == []
    assert common_cuts([SLEEVE, SLEEVE]) == ((4,), (7,), (1,))


def test_another_cut_contradicts_in_its_position() -> None:
    other = Finding(pins=(), cuts=((4,), (6,), (1,)))
    assert contradictions([SLEEVE, other]) == [2]


def test_outside_a_sleeve_only_what_all_cores_allow_stays() -> None:
    first = Finding(pins=(), cuts=((2, 4, 6), (7,)))
    second = Finding(pins=(), cuts=((4, 6, 8), (7,)))
    assert common_cuts([first, second]) == ((4, 6), (7,))


def test_cores_that_share_no_working_cut_contradict() -> None:
    first, second = Finding(pins=(), cuts=((2, 4),)), Finding(pins=(), cuts=((6, 8),))
    assert contradictions([first, second]) == [1]


def test_what_is_sealed_comes_back_as_it_was() -> None:
    finding = Finding(pins=((5, 2, 14, 2), ()), cuts=((11,), (1, 3)))
    assert Finding.restore(finding.dump()) == finding


def test_cuts_are_written_in_the_signs_of_the_format() -> None:
    assert signs("small-a2-6", (0, 9, 3)) == ["0", "9", "3"]
