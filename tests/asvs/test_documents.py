"""The notes for administrators say what the program does: figures, files, commands, settings, tests."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.urls import Resolver404, resolve

from keyctl.accounts.fresh import FRESH_FOR
from keyctl.api.paging import MAX_LIMIT
from keyctl.api.parsers import BOUNDS
from keyctl.field.jpeg import LONGEST_SIDE
from keyctl.lib import limits, sheets
from keyctl.lib.confined import MOST_AT_ONCE
from keyctl.lib.passwords import TRADE
from keyctl.lib.tables.workbooks import LARGEST_UNPACKED, MOST_PARTS
from keyctl.reveals.models import Limits

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / ".deploy"
NOTES = {file.name: file.read_text(encoding="utf-8") for file in sorted(FOLDER.glob("*.md"))}
SECURITY, THREATS = NOTES["SECURITY.md"], NOTES["THREATS.md"]
# One line, however the lines are broken.
FLAT = " ".join(SECURITY.split())


def test_limits_in_the_notes_are_those_of_the_program() -> None:
    site = Limits()
    said = [
        f"{sheets.LARGEST_FILE // 10**6} MB, {sheets.MOST_ROWS:,} rows, {sheets.MOST_COLUMNS} columns",
        f"unpacked {LARGEST_UNPACKED // 2**20} MB in {MOST_PARTS} parts",
        f"longest side {LONGEST_SIDE:,} points",
        f"{limits.LARGEST_BODY // 10**6} MB, {limits.MOST_FIELDS:,} fields, "
        f"an address of {limits.LONGEST_QUERY:,} signs",
        f"alone {site.alone_an_hour} an hour and {site.alone_a_day} a day",
        f"at given work {site.at_work_an_hour} and {site.at_work_a_day}",
        f"{MAX_LIMIT} rows",
        f"{'two' if MOST_AT_ONCE == 2 else MOST_AT_ONCE} at once",
        f"ends {settings.SESSION_COOKIE_AGE // 3600} hours after its sign-in",
        f"after {settings.SESSION_IDLE_AGE // 60} minutes of silence",
        f"a proof of the last {('one', 'two', 'three', 'four', 'five')[FRESH_FOR.seconds // 60 - 1]} minutes",
        f"{BOUNDS.bytes // 1024} KiB",
    ]
    assert [words for words in said if words not in FLAT] == []
    tries, addresses = re.findall(r"(\d+)/(\w+)/", settings.ACCOUNT_RATE_LIMITS["login_failed"])
    assert (addresses, tries) == (("5", "5m"), ("20", "m"))
    assert "5 in 5 minutes for a name, 20 a minute for an address" in FLAT


def test_words_of_the_house_stand_in_the_notes() -> None:
    assert ", ".join(TRADE) in FLAT


def test_every_key_file_stands_in_the_notes() -> None:
    """11.1.1, 11.1.2, 13.1.4: with what it is for, who made it and when it changes."""
    files = re.findall(r'SECRETS_DIR / "([a-z.]+)"', (ROOT / "keyctl" / "settings.py").read_text())
    assert len(files) >= 5
    table = SECURITY.split("## Keys and their lives")[1].split("\n## ")[0]
    assert [name for name in files if f"`{name}`" not in table] == []
    rows = [row.split("|")[1:-1] for row in table.splitlines() if row.startswith("| ")]
    assert all(len(row) == 5 and all(cell.strip() for cell in row) for row in rows)


@pytest.mark.parametrize("name", NOTES)
def test_what_the_notes_name_exists(name: str) -> None:
    """Files, commands, settings and addresses in marks of code."""
    named = re.findall(r"`([^`]+)`", NOTES[name])
    settings_named = {each for text in named for each in re.findall(r"KEYCTL_[A-Z_]+", text)}
    developers = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert {each for each in settings_named if f"`{each}`" not in developers} == set()
    commands = {text.split()[1] for text in named if text.startswith("manage.py ")}
    assert commands <= set(get_commands())
    files = {text for text in named if re.fullmatch(r"[\w./-]+\.(md|conf|service|timer|csv|txt|py)", text)}
    assert [text for text in files if not any((place / text).is_file() for place in (ROOT, FOLDER))] == []
    addresses = {text for text in named if re.fullmatch(r"/[a-z/-]+/", text) and not text.startswith("/etc")}
    assert {text for text in addresses if not leads_somewhere(text)} == set()


def leads_somewhere(path: str) -> bool:
    try:
        resolve(path)
    except Resolver404:
        return False
    return True


@cache
def named_in(file: Path) -> frozenset[str]:
    return frozenset(
        node.name for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.FunctionDef)
    )


def test_each_abuse_is_held_by_a_test_that_exists() -> None:
    rows = [row for row in THREATS.splitlines() if re.match(r"\| \d+ \|", row)]
    assert len(rows) >= 20
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", row)
        assert named, row
        assert [name for file, name in named if name not in named_in(ROOT / file)] == [], row


def anchors(text: str) -> set[str]:
    """As they are made of headings: small letters, hyphens for blanks."""
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", each).lower().replace(" ", "-") for each in headings}


def test_the_notes_have_every_section_that_the_table_names() -> None:
    table = (ROOT / "fixtures" / "published" / "asvs-5.0.0.csv").read_text(encoding="utf-8")
    named = re.findall(r"\.deploy/(\w+\.md)#([a-z-]+)", table)
    assert len(named) > 15
    assert [each for each in named if each[1] not in anchors(NOTES[each[0]])] == []
    assert "]()" not in SECURITY
