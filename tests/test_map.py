"""The map in DEVELOPERS.md is the tree: every name in it exists, and every part of the tree has its line."""

import configparser
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
# What every app may have; the head of the map says so.
SAME = {
    *("access", "forms", "management", "migrations", "models", "policies"),
    *("selectors", "serializers", "services", "templatetags", "urls", "views"),
}
# A folder of tests or templates that stands for no app.
ONLY_TESTS = {"machine"}
ONLY_TEMPLATES = {"design", "emails"}


def section(title: str) -> str:
    text = (ROOT / "DEVELOPERS.md").read_text()
    return text.split(f"## {title}\n", 1)[1].split("\n## ", 1)[0]


@cache
def entries() -> dict[str, str]:
    """Each folder with a line of its own, by its way from the top, and all that is said of it."""
    found: dict[str, str] = {}
    outer = ""
    for line in section("The map").splitlines():
        if entry := re.match(r"    (\S+/) +(\S.*)", line):
            outer = last = entry[1]
            found[last] = entry[2]
        elif entry := re.match(r"      (\S+/) +(\S.*)", line):
            last = outer + entry[1]
            found[last] = entry[2]
        elif line.strip():
            found[last] += "\n" + line
    return found


def folders(place: str) -> set[str]:
    """With something in them; what a run leaves behind is no part of the tree."""
    inside = [each for each in (ROOT / place).iterdir() if each.is_dir() and each.name[0] not in "_."]
    return {each.name for each in inside if any(file for file in each.rglob("*.*") if file.suffix != ".pyc")}


def below(place: str) -> set[str]:
    return {way.removeprefix(place).strip("/") for way in entries() if way.startswith(place) and way != place}


def test_every_folder_in_the_map_exists() -> None:
    assert len(entries()) > 60
    assert [way for way in entries() if not (ROOT / way).is_dir()] == []


def test_the_top_level_stands_in_the_map() -> None:
    assert {way for way in entries() if way.count("/") == 1} == {
        f"{name}/" for name in folders(".") if name[0] != "."
    }


def test_every_app_has_its_line() -> None:
    assert below("keyctl/") == folders("keyctl")


def named_in(app: str) -> set[str]:
    """Words in marks of code that are names of ours: `pace`, `press/`, `selectors/states`."""
    said = entries()[f"keyctl/{app}/"]
    return {word.strip("/") for word in re.findall(r"`([a-z_0-9]+(?:/[a-z_0-9]+)*(?:\.py)?/?)`", said)}


@pytest.mark.parametrize("app", sorted(below("keyctl/")))
def test_every_part_of_an_app_is_named(app: str) -> None:
    assert folders(f"keyctl/{app}") - SAME - named_in(app) == set()


@pytest.mark.parametrize("app", sorted(below("keyctl/")))
def test_what_is_named_of_an_app_is_there(app: str) -> None:
    ways = [each.relative_to(ROOT / "keyctl" / app) for each in (ROOT / "keyctl" / app).rglob("*")]
    there = {name for way in ways for name in (*names_of(way), *names_of(way.with_suffix("")))}
    assert named_in(app) - there == set()


def names_of(way: Path) -> Iterator[str]:
    """`states.py` is called by its own name or by any part of the way to it."""
    for at in range(len(way.parts)):
        yield "/".join(way.parts[at:])


def test_every_module_of_pinning_stands_in_the_map_once() -> None:
    lines = entries()["pinning/"].splitlines()[1:]
    named = [name for line in lines for name in re.split(r"  +", line.strip())[0].split(" ")]
    modules = {file.stem for file in (ROOT / "pinning").glob("*.py")} - {"__init__"}
    kept = {"data/", "COMMANDS.md"}
    assert sorted(named) == sorted(modules | kept)
    assert folders("pinning") == {"data"}


def test_every_folder_of_tests_has_its_line() -> None:
    assert below("tests/") == folders("tests")


def test_tests_and_templates_mirror_the_apps() -> None:
    apps = folders("keyctl")
    assert folders("tests/keyctl") - apps == ONLY_TESTS
    assert folders("templates") - apps == ONLY_TEMPLATES
    for name in ONLY_TESTS:
        assert f"`{name}/`" in entries()["tests/keyctl/"]
    for name in ONLY_TEMPLATES:
        assert f"`{name}/`" in entries()["templates/"]


@pytest.mark.parametrize("place", ["static/", "fixtures/"])
def test_what_is_served_and_what_is_compared_with_has_its_lines(place: str) -> None:
    assert {name for name in below(place) if "/" not in name} == folders(place)


def test_layers_are_those_that_are_checked() -> None:
    linter = configparser.ConfigParser()
    linter.read(ROOT / ".importlinter")
    apps = linter["importlinter:contract:apps"]["layers"].replace("keyctl.", "").split("\n")
    said = section("Which way imports run")
    block = " ".join(line.strip() for line in said.splitlines() if re.match(r"    \S|     +>", line))
    ours = re.split(r" > ", block.split(" engine > pinning")[0])
    assert [set(layer.split(", ")) for layer in ours] == [set(layer.split(" | ")) for layer in apps if layer]
    inside = re.findall(r"\((\w+)\)", linter["importlinter:contract:inside-an-app"]["layers"])
    assert f"`{' > '.join(inside)}`" in said
