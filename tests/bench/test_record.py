"""Register, record and report hold together: no figure without a measurement, none unmet without a reason."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.bench import drawing, table
from tests.bench.record import FOLDER, Measured, read_record
from tests.bench.topics import ROOT
from tests.bench.wanted import REGISTER, Wanted

ENTRIES = [entry for entries in REGISTER.values() for entry in entries]


@pytest.fixture(scope="module")
def record() -> dict[str, Measured]:
    return read_record()


@cache
def names_in(path: str) -> frozenset[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def patterns() -> Iterator[tuple[Wanted, str]]:
    yield from ((entry, pattern) for entry in ENTRIES for pattern in entry.lines)


def test_every_figure_is_measured_or_held_by_a_test() -> None:
    assert len(ENTRIES) > 50
    assert [entry.title for entry in ENTRIES if not entry.lines and not entry.tests] == []


def test_every_test_that_is_said_to_hold_a_figure_exists() -> None:
    held = [name for entry in ENTRIES for name in entry.tests]
    assert [name for name in held if name.split("::")[1] not in names_in(name.split("::")[0])] == []


def test_what_tests_hold_says_how_much_they_try() -> None:
    assert [entry.title for entry in ENTRIES if bool(entry.tests) != bool(entry.tried)] == []


def test_every_pattern_finds_a_line_in_the_record(record: dict[str, Measured]) -> None:
    lines = [(topic, line.name) for topic, each in record.items() for line in each.lines]
    assert [
        pattern
        for entry, pattern in patterns()
        if not any(Wanted("", "", (pattern,)).measures(topic, name) for topic, name in lines)
    ] == []


def test_no_line_of_the_record_is_without_a_figure(record: dict[str, Measured]) -> None:
    assert [
        f"{topic}: {line.name}"
        for topic, each in record.items()
        for line in each.lines
        if not any(entry.measures(topic, line.name) for entry in ENTRIES)
    ] == []


def test_what_is_not_met_says_why(record: dict[str, Measured]) -> None:
    found = [table.found_of(entry, record) for entry in ENTRIES]
    assert [each.entry.title for each in found if not each.is_met and not each.entry.why] == []


@pytest.mark.parametrize(("name", "made"), [("report.svg", drawing.as_svg), ("README.md", table.as_page)])
def test_the_report_is_drawn_from_the_record(record: dict[str, Measured], name: str, made: object) -> None:
    """`python -m tests.bench --draw` draws it anew."""
    assert callable(made)
    assert (FOLDER / name).read_text(encoding="utf-8") == made(record)


def test_the_record_names_no_place_of_the_machine(record: dict[str, Measured]) -> None:
    texts = [file.read_text(encoding="utf-8") for file in Path(FOLDER).iterdir()]
    assert [text for text in texts if "/tmp" in text or "/work/" in text or "/root/" in text] == []  # noqa: S108
