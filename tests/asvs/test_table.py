"""The table of the ASVS 5.0.0: whole, its levels right, each requirement met by tests that exist or a reason.

The standard has 345 requirements: 70 of level 1, 183 of level 2, 92 of level 3, counted in its table; and by
chapter as below. Levels in `LEVELS` were read there by another reader than the one that wrote our table.
"""

import ast
import csv
import re
from collections import Counter
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
NOTES = (ROOT / ".deploy" / "SECURITY.md").read_text(encoding="utf-8")
with (ROOT / "fixtures" / "published" / "asvs-5.0.0.csv").open(encoding="utf-8", newline="") as handle:
    ROWS = list(csv.DictReader(handle))

# Requirements of levels 1 and 2 by chapter.
BY_CHAPTER = {
    **{"1": (8, 19), "2": (4, 7), "3": (8, 11), "4": (2, 8), "5": (4, 5), "6": (13, 22)},
    **{"7": (6, 12), "8": (4, 3), "9": (4, 3), "10": (5, 24), "11": (3, 11), "12": (3, 6)},
    **{"13": (1, 12), "14": (2, 7), "15": (3, 10), "16": (0, 16), "17": (0, 7)},
}
LEVELS = {
    1: "1.2.1 1.2.4 1.2.5 1.5.1 2.2.1 2.2.2 2.3.1 3.3.1 3.4.1 3.5.1 3.5.3 4.1.1 5.2.1 5.2.2 5.3.2 6.2.1 "
    "6.2.4 6.3.1 7.2.4 7.4.1 7.4.2 8.2.1 8.2.2 8.3.1 11.3.2 14.2.1",
    2: "1.3.4 1.3.6 1.3.7 1.5.2 2.1.3 2.3.2 2.3.3 2.3.4 2.4.1 3.3.2 3.3.3 3.3.4 3.4.3 3.4.4 3.4.5 3.4.6 "
    "4.1.3 5.1.1 5.2.3 5.4.2 6.3.3 6.5.1 7.3.1 7.3.2 7.4.5 8.1.2 8.2.3 8.4.1 11.1.1 11.3.3 11.4.2 "
    "13.3.1 13.4.2 14.3.2 14.3.3 15.1.2 15.3.2 15.3.3 16.2.5 16.3.2 16.4.2 16.4.3 16.5.3",
    3: "1.2.10 1.3.12 2.3.5 2.4.2 4.1.4 6.3.8 7.5.3 8.3.2 11.3.4 11.7.1 13.1.4 13.3.3 14.2.6 15.4.2 15.4.4",
}


@cache
def named_in(file: str) -> frozenset[str]:
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def test_every_requirement_of_levels_one_and_two_stands_in_it_once() -> None:
    ids = [row["id"] for row in ROWS]
    assert [each for each, number in Counter(ids).items() if number > 1] == []
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", each) for each in ids)
    levels = Counter(row["level"] for row in ROWS)
    assert (levels["1"], levels["2"]) == (70, 183)
    chapters = Counter((row["id"].split(".")[0], row["level"]) for row in ROWS)
    assert {name: (chapters[name, "1"], chapters[name, "2"]) for name in BY_CHAPTER} == BY_CHAPTER


def test_levels_are_those_of_the_standard() -> None:
    levels = {row["id"]: int(row["level"]) for row in ROWS}
    for level, ids in LEVELS.items():
        assert {each: levels[each] for each in ids.split()} == dict.fromkeys(ids.split(), level)


def test_what_is_met_says_where_and_by_which_tests() -> None:
    for row in ROWS:
        if row["status"] == "met":
            assert row["where"], row["id"]
            assert row["tests"].split(), row["id"]
            assert row["reason"] == "", row["id"]


def test_every_test_that_it_names_exists() -> None:
    gone = []
    for row in ROWS:
        for each in row["tests"].split():
            file, _, name = each.partition("::")
            if not (ROOT / file).is_file() or (name and name not in named_in(file)):
                gone.append((row["id"], each))
    assert gone == []


def test_every_place_that_it_names_exists() -> None:
    for row in ROWS:
        for place in row["where"].split(", "):
            name = place.partition("#")[0]
            if name.startswith(("keyctl", "templates", "static", "fixtures", ".deploy", "requirements")):
                assert list(ROOT.glob(name.rstrip("/"))), (row["id"], place)


def test_what_is_not_met_or_does_not_apply_says_why() -> None:
    for row in ROWS:
        assert row["status"] in {"met", "not applicable", "not met"}
        assert bool(row["reason"]) == (row["status"] != "met"), row["id"]
        assert row["asks"].strip(), row["id"]


def test_what_is_not_met_stands_in_the_notes_and_nothing_else_does() -> None:
    section = NOTES.split("## What is not met")[1]
    named = set(re.findall(r"\*\*(\d+\.\d+\.\d+)\*\*", section))
    assert named == {row["id"] for row in ROWS if row["status"] == "not met"}
