"""`manage.py import`: the figures as one object, the exit's number, and no worker."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from keyctl.imports.models import Change, Import, ImportHabit
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol
from tests.cast import Cast
from tests.keyctl.imports.files import DOORS, ROWS, as_csv
from tests.keyctl.inherited import lists

pytestmark = pytest.mark.django_db


def run(kind: str, file: Path, *more: str, site: str = "north") -> tuple[int, dict[str, Any]]:
    out, code = io.StringIO(), 0
    try:
        call_command("import", kind, str(file), "--site", site, "--json", *more, stdout=out)
    except SystemExit as end:
        code = int(end.code or 0)
    return code, json.loads(out.getvalue())


@pytest.fixture
def doors(tmp_path: Path, cast: Cast) -> Path:
    file = tmp_path / "doors.csv"
    file.write_bytes(as_csv([DOORS, *ROWS]))
    return file


def test_a_dry_run_tells_and_writes_nothing(doors: Path) -> None:
    code, told = run("doors", doors, "--dry-run")
    assert (code, told) == (
        0,
        {
            "buildings": 2,
            "floors": 3,
            "spaces": 2,
            "doors": {"read": 4, "created": 4, "updated": 0, "unchanged": 0},
            "housings": 4,
            "identifiers": 3,
            "errors": [],
            "warnings": [],
        },
    )
    assert not Door.objects.exists()
    assert not Change.objects.exists()
    assert Import.objects.get().state == Import.State.LEFT


def test_a_file_is_taken_and_a_second_time_nothing_is_new(doors: Path) -> None:
    assert run("doors", doors)[1]["doors"]["created"] == 4
    assert Door.objects.count() == 4
    code, told = run("doors", doors, site="North site")
    assert (code, told["doors"]) == (0, {"read": 4, "created": 0, "updated": 0, "unchanged": 4})


def test_rows_with_errors_are_left_out_and_told_by_their_place(doors: Path) -> None:
    doors.write_bytes(as_csv([DOORS, ["A", "Level 1", "", *[""] * 7], ROWS[0]]))
    code, told = run("doors", doors)
    assert (code, told["doors"]) == (1, {"read": 2, "created": 1, "updated": 0, "unchanged": 0})
    assert told["errors"] == [
        {"sheet": "", "row": 2, "column": "Number", "message": "The row names no door number. Fill it in."}
    ]


def test_columns_are_named_where_headings_do_not_tell(doors: Path) -> None:
    doors.write_bytes(as_csv([["Haus", "Etage", "Nr."], ["A", "Level 1", "101"]]))
    assert run("doors", doors)[0] == 2
    code, told = run("doors", doors, "--map", "Haus=building", "--map", "Etage=floor", "--map", "c=number")
    assert (code, told["doors"]["created"]) == (0, 1)
    assert not ImportHabit.objects.exists()


@pytest.mark.parametrize(
    ("kind", "more", "words"),
    [
        ("windows", (), "no imports of windows"),
        ("doors", ("--by", "nobody"), "Nobody signs in"),
        ("doors", ("--by", "desk"), "no role at the site that suffices"),
        ("doors", ("--map", "Number"), "Heading=field"),
        ("doors", ("--map", "Number=colour"), "no field colour"),
    ],
)
def test_what_cannot_be_done_at_all_ends_with_two(
    doors: Path, kind: str, more: tuple[str, ...], words: str
) -> None:
    code, told = run(kind, doors, *more)
    assert (code, list(told)) == (2, ["errors"])
    assert words in told["errors"][0]["message"]
    assert not Import.objects.exists()


def test_other_files_and_sites_are_refused_in_words_too(doors: Path, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="Sites here: NORTH, SOUTH") as refused:
        call_command("import", "doors", str(doors), "--site", "WEST")
    assert refused.value.returncode == 2
    assert "cannot be read" in run("doors", tmp_path / "none.csv")[1]["errors"][0]["message"]
    doors.write_bytes(b"\x89PNG\0")
    assert "neither a CSV" in run("doors", doors)[1]["errors"][0]["message"]


def test_a_bitting_list_is_written_and_stands_among_the_imports(cast: Cast, tmp_path: Path) -> None:
    file = tmp_path / "list.csv"
    file.write_bytes(lists.as_csv([lists.HEADER, *lists.ROWS]))
    new = ("--system", "OLD", "--system-name", "Old house", "--format", "small-a2-6", "--keyway", "WOLD")
    assert run("bittings", file)[0] == 2
    code, told = run("bittings", file, *new, "--dry-run")
    assert (code, told["bittings"], told["cores"]) == (
        0,
        {"read": 4, "created": 4, "updated": 0, "unchanged": 0},
        3,
    )
    assert not KeySymbol.objects.exists()
    assert run("bittings", file, *new)[0] == 0
    assert KeySymbol.objects.count() == 4
    assert Import.objects.get().kind == "bittings"
    code, told = run("bittings", file, "--system", "OLD")
    assert (code, told["bittings"]["created"]) == (1, 0)
    assert not any(row[1] and row[1] in json.dumps(told) for row in lists.ROWS)
