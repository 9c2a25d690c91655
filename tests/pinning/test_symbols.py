"""Key symbols: what is written can be read again, and no two keys share one."""

from itertools import product

import pytest

from pinning import (
    CONTROL,
    PinningError,
    Symbol,
    cross_keyed,
    direct_change,
    key_symbol,
    parse_symbol,
    single_keyed,
    without_change,
)

INDEXES = (0, 1, 7, 8, 21, 23, 24, 25, 47, 48, 300)
PATHS = {levels: [p for n in range(levels) for p in product(INDEXES, repeat=n)] for levels in (2, 3, 4)}


@pytest.mark.parametrize("levels", PATHS)
def test_no_two_keys_share_a_symbol(levels: int) -> None:
    symbols = [key_symbol(levels, path) for path in PATHS[levels]]
    assert len(set(symbols)) == len(symbols)


@pytest.mark.parametrize("levels", PATHS)
def test_a_symbol_is_read_back_to_its_path(levels: int) -> None:
    for path in PATHS[levels]:
        read = parse_symbol(levels, key_symbol(levels, path))
        assert (path[:-1], path[-1] + 1) == (read.path, read.number) if read.number else path == read.path


@pytest.mark.parametrize("levels", PATHS)
def test_no_symbol_uses_the_letters_that_look_like_digits(levels: int) -> None:
    assert not set("IO") & set("".join(key_symbol(levels, path) for path in PATHS[levels]))


def test_a_change_right_below_a_higher_key_takes_its_name() -> None:
    """ANSI/BHMA A156.28 as told in Keynotes 2014-05 p.19."""
    assert [direct_change(4, path, 0) for path in [(), (0,), (0, 0)]] == ["GGM1", "A1", "AA1"]
    assert direct_change(3, (), 0) == "A1"
    assert parse_symbol(4, "GGM1") == Symbol("change", (), 1)
    assert parse_symbol(4, "A1") == Symbol("change", (0,), 1)


def test_keys_outside_the_hierarchy_have_their_own_symbols() -> None:
    assert parse_symbol(3, single_keyed(0)) == Symbol("single", (), 1)
    assert parse_symbol(3, without_change(0)) == Symbol("without_change", (), 1)
    assert parse_symbol(3, CONTROL) == Symbol("control")
    assert key_symbol(1, (4,)) == "SKD5"


@pytest.mark.parametrize(("levels", "symbol"), [(2, "1AA"), (3, "AA1"), (3, "A1"), (4, "AA1"), (4, "GGM1")])
def test_a_cross_keyed_change_is_marked_with_an_x(levels: int, symbol: str) -> None:
    crossed, plain = parse_symbol(levels, cross_keyed(levels, symbol)), parse_symbol(levels, symbol)
    assert (crossed.path, crossed.number, crossed.crossed) == (plain.path, plain.number, True)


@pytest.mark.parametrize(
    ("levels", "symbol"), [(4, "A1"), (4, "AA"), (3, "CTR"), (3, "XAA1"), (2, "nonsense")]
)
def test_it_refuses_to_cross_key_what_would_be_misread_or_is_no_change(levels: int, symbol: str) -> None:
    with pytest.raises(PinningError):
        cross_keyed(levels, symbol)


@pytest.mark.parametrize(
    ("levels", "text"),
    [
        *((2, text) for text in ("AB", "AA1", "0AA", "01AA", "")),
        *((3, text) for text in ("B", "BA", "AA0", "A1A", "AI", "AO1", "AAA")),
        *((4, text) for text in ("GGG", "GGMM", "AAA", "aa1", "AA1 ", "XXAA1", "1A", "SKD0", "X0X")),
        (4, "AA1234567890"),
        (4, "\u0663A"),
    ],
)
def test_it_refuses_what_is_no_symbol(levels: int, text: str) -> None:
    with pytest.raises(PinningError):
        parse_symbol(levels, text)


@pytest.mark.parametrize(
    ("levels", "path"), [(0, ()), (7, ()), (2, (0, 0)), (4, (-1,)), (3, (0, 0, 0)), (1, ())]
)
def test_it_refuses_a_key_that_the_levels_do_not_have(levels: int, path: tuple[int, ...]) -> None:
    with pytest.raises(PinningError):
        key_symbol(levels, path)
