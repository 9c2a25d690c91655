"""Sizes and driver tables as a shop writes them."""

import pytest

from keyctl.formats.sizes import Unreadable, drivers_text, parse_drivers, parse_sizes, sizes_text

READ = [
    ("2-5", [2, 3, 4, 5]),
    ("0, 2, 4-6", [0, 2, 4, 5, 6]),
    ("2 – 4; 9", [2, 3, 4, 9]),
    ("7 3 3", [3, 7]),
    ("", []),
    (" , ", []),
]


@pytest.mark.parametrize(("text", "sizes"), READ)
def test_sizes_are_read(text: str, sizes: list[int]) -> None:
    assert parse_sizes(text) == sizes


@pytest.mark.parametrize("text", ["x", "2-", "-2", "2-4-6", "9-2", "1000", "0-9999", "1.5", "99999"])
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(Unreadable, match="write"):
        parse_sizes(text)


def test_sizes_are_written_as_they_are_read() -> None:
    assert sizes_text([9, 2, 3, 4, 4]) == "2-4, 9"
    assert parse_sizes(sizes_text(range(2, 20))) == list(range(2, 20))


def test_a_driver_table_is_written_as_it_is_read() -> None:
    rows = parse_drivers("0-3: 1\n4: 2")
    assert rows == [{"from": 0, "to": 3, "pin": 1}, {"from": 4, "to": 4, "pin": 2}]
    assert drivers_text(rows) == "0-3: 1\n4: 2"


@pytest.mark.parametrize("line", ["0-3", "0-3: x", ": 1", "a: 1"])
def test_a_row_that_cannot_be_read_is_named(line: str) -> None:
    with pytest.raises(Unreadable, match="Line 2"):
        parse_drivers(f"0-3: 1\n{line}")
