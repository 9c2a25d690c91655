"""The shape of the repository: few names at the top, small files, small functions."""

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "fixtures",
    "keyctl",
    "manage.py",
    "pinning",
    "requirements.txt",
    "static",
    "templates",
    "tests",
}
VAGUE_NAMES = {"common", "helper", "helpers", "manager", "managers", "misc", "util", "utils"}
LOCKS = ["requirements.txt", ".ci/requirements.txt"]


def product_files() -> list[Path]:
    """Both packages without the migrations, which Django writes."""
    found = [file for package in ("keyctl", "pinning") for file in (ROOT / package).rglob("*.py")]
    return [file for file in found if "migrations" not in file.parts]


def functions(file: Path) -> Iterator[tuple[str, int]]:
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.end_lineno is not None:
            yield node.name, node.end_lineno - node.lineno + 1


def tracked_names() -> set[str]:
    # An unpacked archive has no git; then the folder alone counts.
    listed = subprocess.run(
        ["git", "ls-files", "-z"],  # noqa: S607 (the developer's own git)
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    return {path.split("/")[0] for path in listed.stdout.split("\0") if path}


def test_the_top_level_shows_ten_names_and_no_more() -> None:
    names = tracked_names() | {path.name for path in ROOT.iterdir()}
    assert {name for name in names if not name.startswith(".")} - {"__pycache__"} == TOP_LEVEL


def test_no_file_is_longer_than_400_lines() -> None:
    lengths = {
        file.relative_to(ROOT).as_posix(): len(file.read_text().splitlines()) for file in product_files()
    }
    assert len(lengths) > 10
    assert {name: lines for name, lines in lengths.items() if lines > 400} == {}


def test_no_function_is_longer_than_50_lines() -> None:
    found = [(file.name, name, lines) for file in product_files() for name, lines in functions(file)]
    assert len(found) > 100
    assert [each for each in found if each[2] > 50] == []


def test_no_module_or_folder_has_a_name_that_says_nothing() -> None:
    files = [*product_files(), *(ROOT / "tests").rglob("*.py")]
    names = {part for file in files for part in file.relative_to(ROOT).with_suffix("").parts}
    assert names & VAGUE_NAMES == set()


@pytest.mark.parametrize("lock", LOCKS)
def test_the_locked_packages_are_exact_and_hashed_and_name_no_place_to_get_them(lock: str) -> None:
    lines = (ROOT / lock).read_text().splitlines()
    odd = [line for line in lines if not line.startswith("    --hash=sha256:") and "==" not in line]
    assert odd == []
    assert not any("://" in line for line in lines)


def test_both_locks_agree_on_every_package_they_share() -> None:
    runtime, development = (
        dict(
            line.split(" ")[0].split("==") for line in (ROOT / lock).read_text().splitlines() if "==" in line
        )
        for lock in LOCKS
    )
    shared = runtime.keys() & development.keys()
    assert shared
    assert {name for name in shared if runtime[name] != development[name]} == set()


@pytest.mark.parametrize("folder", [".venv/", ".data/", ".secrets/"])
def test_what_a_start_leaves_behind_is_ignored_by_git(folder: str) -> None:
    assert folder in (ROOT / ".gitignore").read_text().splitlines()
