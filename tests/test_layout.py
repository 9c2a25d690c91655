"""The shape of the repository: few names at the top, small files, small functions."""

import ast
import re
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
FOLDERS = (".ci", "keyctl", "pinning", "static", "templates", "tests")
VAGUE_NAMES = {"common", "helper", "helpers", "manager", "managers", "misc", "util", "utils"}
LOCKS = ["requirements.txt", ".ci/requirements.txt"]


# Written by a program, or somebody else's: the locks, what is vendored, and a description made from the code.
NOT_OURS = ("requirements.txt", ".ci/requirements.txt", "static/vendor/")
WRITTEN = (".py", ".js", ".ts", ".css", ".html", ".txt", ".c", ".sh")
LONGEST_FILE, LONGEST_FUNCTION = 400, 50
# Where a statement holds others.
BLOCKS = ("body", "orelse", "handlers", "finalbody", "cases")
# A line of a script that opens a function, and no other kind of block.
OPENS = re.compile(r"^(\s*)(?!\s*(?:\}|if|for|while|switch|try)\b).*(?:\bfunction\b.*|=>\s*|\)\s*)\{$")


def written_files() -> list[Path]:
    """All that people write: product, tests, migrations, pages, scripts, styles, and the programs of CI."""
    found = [file for folder in FOLDERS for file in (ROOT / folder).rglob("*") if file.is_file()]
    ours = [file for file in [*found, ROOT / "manage.py"] if not name_of(file).startswith(NOT_OURS)]
    return [file for file in ours if file.suffix in WRITTEN or file.parent.name == ".ci"]


def name_of(file: Path) -> str:
    return file.relative_to(ROOT).as_posix()


def python_functions(text: str) -> Iterator[tuple[str, int]]:
    """From the first decorator to the last line, those inside others too."""
    inside: list[ast.AST] = [ast.parse(text)]
    while inside:
        node = inside.pop()
        inside += [each for block in BLOCKS for each in getattr(node, block, ())]
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.end_lineno is not None:
            first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
            yield node.name, node.end_lineno - first + 1


def script_functions(text: str) -> Iterator[tuple[str, int]]:
    """As far as indentation tells: up to the brace below its beginning."""
    lines = text.splitlines()
    for at, line in enumerate(lines):
        if opening := OPENS.match(line):
            close = opening[1] + "}"
            length = next((n for n, each in enumerate(lines[at:]) if n and each.startswith(close)), 0)
            yield line.strip(), length + 1


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
    lengths = {name_of(file): len(file.read_text().splitlines()) for file in written_files()}
    assert {Path(name).suffix for name in lengths} >= {".py", ".js", ".css", ".html", ".txt"}
    assert len(lengths) > 2000
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_FILE} == {}


def test_no_function_is_longer_than_50_lines() -> None:
    readers = {".py": python_functions, ".js": script_functions}
    texts = [(file, file.read_text()) for file in written_files() if file.suffix in readers]
    # A shorter file holds no longer function.
    long = [(file, text) for file, text in texts if text.count("\n") > LONGEST_FUNCTION]
    found = [(name_of(file), *each) for file, text in long for each in readers[file.suffix](text)]
    assert len([each for each in found if each[0].endswith(".py")]) > 5_000
    assert len([each for each in found if each[0].endswith(".js")]) > 200
    assert [each for each in found if each[2] > LONGEST_FUNCTION] == []


def test_no_module_or_folder_has_a_name_that_says_nothing() -> None:
    files = [file for file in written_files() if file.suffix == ".py"]
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
