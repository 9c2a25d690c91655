"""A designed system: its tree, its symbols, its bittings."""

from itertools import pairwise

import pytest

from keyctl import engine
from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of, design_of
from tests import factories
from tests.cast import Cast

FOUR_LEVELS = (((1, 2), 2), ((3, 4), 2), ((5, 6, 7), 3))


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator, levels=FOUR_LEVELS)


def names(system: KeySystem, level: int) -> list[str]:
    return list(system.symbols.filter(level=level).order_by("symbol").values_list("symbol", flat=True))


def test_the_symbols_of_four_levels(system: KeySystem) -> None:
    """Standard key coding, ANSI/BHMA A156.28, as told in Keynotes 2014-05 p.19."""
    found = [names(system, level)[:3] for level in range(4)]
    assert found == [["GGM"], ["A", "B"], ["AA", "AB", "BA"], ["AA1", "AA2", "AA3"]]


def test_every_key_has_a_bitting_of_its_own(system: KeySystem) -> None:
    bittings = [bitting_of(symbol) for symbol in system.symbols.all()]
    assert len(set(bittings)) == len(bittings) == 1 + 2 + 4 + 12 + 1


def test_change_keys_share_the_masters_parity(system: KeySystem) -> None:
    """Two-step progression: every cut of a position has the parity of the master's (common practice)."""
    top = bitting_of(factories.symbol(system, "GGM"))
    for symbol in system.symbols.exclude(kind=KeySymbol.Kind.CONTROL):
        assert all((int(cut) - int(own)) % 2 == 0 for cut, own in zip(bitting_of(symbol), top, strict=True))


def test_no_plain_text_bitting_is_stored(system: KeySystem) -> None:
    for symbol in system.symbols.all():
        assert bitting_of(symbol).encode() not in bytes(symbol.bitting)


def test_the_design_can_be_opened_again(system: KeySystem) -> None:
    assert design_of(system).tree.master.text == bitting_of(factories.symbol(system, "GGM"))


def test_an_ordinary_system_has_no_control_key_and_keeps_the_adjacent_cut_limit(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator, format_id="fixed-6")
    macs = engine.load_format("fixed-6").macs
    assert macs is not None
    assert not system.symbols.filter(kind=KeySymbol.Kind.CONTROL).exists()
    for symbol in system.symbols.all():
        assert all(abs(int(a) - int(b)) <= macs for a, b in pairwise(bitting_of(symbol)))


def test_it_refuses_more_keys_than_the_positions_give(cast: Cast) -> None:
    with pytest.raises(Refused, match="has room for 4 keys"):
        factories.make_system(cast.north, actor=cast.administrator, levels=(((1,), 5), ((2, 3), 2)))


def test_it_refuses_a_position_given_twice(cast: Cast) -> None:
    with pytest.raises(Refused) as refused:
        factories.make_system(cast.north, actor=cast.administrator, levels=(((1, 2), 2), ((2, 3), 2)))
    assert any("at most once" in reason for reason in refused.value.reasons)


def test_it_refuses_a_system_without_a_site(cast: Cast) -> None:
    with pytest.raises(Refused, match="belongs to a site"):
        factories.make_system(actor=cast.administrator)
