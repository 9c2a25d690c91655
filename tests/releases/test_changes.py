"""Version, changelog, kept releases and tags say the same; what was promised beside the API still stands."""

import json
import re
import subprocess
import sys

import pytest
from django.urls import reverse

from keyctl import __version__
from tests.releases import DUMPS, KEPT, ROOT, in_order, versions
from tests.releases.promises import broken, promises

CHANGES = (ROOT / "keyctl" / "CHANGES.md").read_text(encoding="utf-8")
# As https://keepachangelog.com/en/1.1.0/ has it: the newest first, each with its day.
HEADINGS = re.findall(r"^## \[(\d+\.\d+\.\d+)\] - (\d{4}-\d{2}-\d{2})$", CHANGES, re.MULTILINE)
PARTS = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security", "Upgrading"}
PROMISED = [version for version in versions() if (KEPT / version / "promises.json").exists()]


def test_the_changelog_begins_with_this_release() -> None:
    told = [version for version, _ in HEADINGS]
    assert told[0] == __version__
    assert told == sorted(told, key=in_order, reverse=True)
    assert len(re.findall(r"^## \[", CHANGES, re.MULTILINE)) == len(HEADINGS)
    assert set(re.findall(r"^### (.+)$", CHANGES, re.MULTILINE)) <= PARTS


def test_each_release_of_the_changelog_is_kept() -> None:
    assert sorted((version for version, _ in HEADINGS), key=in_order) == versions()
    kept = {(version, name) for version in versions() for name in DUMPS.values()}
    assert {(version, name) for version, name in kept if not (KEPT / version / name).is_file()} == set()


def test_kept_releases_are_small() -> None:
    sizes = [file.stat().st_size for file in KEPT.rglob("*") if file.is_file()]
    assert 0 < sum(sizes) < 1_500_000 * len(versions())


def test_each_tag_is_a_release_of_the_changelog() -> None:
    """An unpacked archive, or a clone without tags, has none."""
    asked = ["git", "tag", "--list", "v*"]
    told = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=False)  # noqa: S603
    assert set(told.stdout.split()) <= {f"v{version}" for version, _ in HEADINGS}


def test_each_promise_names_a_test_that_is_there() -> None:
    """Each row of the statement ends with the file that holds it."""
    rows = re.findall(r"^\| (?!what |---).+\| `([^`|]+)` \|$", CHANGES, re.MULTILINE)
    assert len(rows) > 8
    assert [name for name in rows if not (ROOT / name).is_file()] == []


@pytest.mark.parametrize("version", PROMISED)
def test_what_others_build_upon_is_still_there(version: str) -> None:
    assert broken(json.loads((KEPT / version / "promises.json").read_text()), promises()) == []


def test_what_is_gone_is_named() -> None:
    assert "1.0.0" in PROMISED
    old = promises()
    assert broken(old | {"columns": [*old["columns"], "doors: colour"]}, old) == ["columns: doors: colour"]
    assert all(old.values())


def test_the_command_tells_the_release() -> None:
    told = subprocess.run(
        [sys.executable, "manage.py", "--version"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout == f"keyctl {__version__}\n"


def test_a_label_leads_where_it_always_led() -> None:
    """It is glued to doors: the address itself, and not only that there is one."""
    assert reverse("find-by-tag", args=["K7Q2"]) == "/Q/K7Q2"
