"""Entities and references in workbooks are refused twice: by our look before the parser, and by the parser.

The attacks are those of the documentation of `defusedxml`: a billion laughs, quadratic blow-up, external
entities local and remote; the referee is the parser of the standard library, which takes what is harmless.
"""

from pathlib import Path
from typing import Any

import pytest

from keyctl.lib.confined import run_confined
from keyctl.lib.errors import Refused
from keyctl.lib.sheets import read_sheet
from tests.hostile.workbooks import SHEET, STRINGS, good_parts, packed

LAUGHS = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;"><!ENTITY c "&b;&b;&b;">]><x>&c;</x>'
QUADRATIC = f'<!DOCTYPE x [<!ENTITY a "{"ha" * 500}">]><x>{"&a;" * 500}</x>'
LOCAL = '<!DOCTYPE x [<!ENTITY a SYSTEM "file://{file}">]><x>&a;</x>'
REMOTE = '<!DOCTYPE x [<!ENTITY a SYSTEM "http://127.0.0.1:9/x">]><x>&a;</x>'
PARAMETER = '<!DOCTYPE x [<!ENTITY % p SYSTEM "file://{file}"> %p;]><x/>'


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    file = tmp_path / "secret"
    file.write_text("TOPSECRET")
    return file


def ask(name: str, content: bytes) -> Any:
    return run_confined(f"tests.hostile.xml_reading:{name}", content)


@pytest.mark.parametrize("attack", [LAUGHS, QUADRATIC, LOCAL, REMOTE, PARAMETER])
@pytest.mark.parametrize("code", ["utf-8", "utf-16"])
def test_the_parser_itself_refuses_what_declares_entities(attack: str, code: str, secret: Path) -> None:
    told = ask("parse", attack.replace("{file}", str(secret)).encode(code))
    assert told["in_force"]
    assert not told["lxml"]
    assert told["modules"] == dict.fromkeys(("fromstring", "iterparse"), "defusedxml.common")
    assert set(told["told"].values()) == {"EntitiesForbidden"}


def test_the_parser_takes_what_is_harmless() -> None:
    told = ask("parse", b"<x>plain &amp; simple</x>")["told"]
    assert "plain & simple" in told["fromstring"]
    assert "plain & simple" in told["iterparse"]


@pytest.mark.parametrize("attack", [LAUGHS, QUADRATIC, LOCAL, REMOTE, PARAMETER])
@pytest.mark.parametrize("part", [SHEET, STRINGS, "xl/workbook.xml", "[Content_Types].xml"])
def test_a_workbook_with_it_is_refused_before_and_by_the_library(
    attack: str, part: str, secret: Path
) -> None:
    content = packed(good_parts() | {part: attack.replace("{file}", str(secret)).encode()})
    with pytest.raises(Refused, match="declares things of its own"):
        read_sheet(content)
    told = ask("load", content)
    assert "TOPSECRET" not in told
    assert "haha" not in told
    assert told.isidentifier()


def test_the_workbook_without_it_is_read() -> None:
    sheet = read_sheet(packed(good_parts()))
    assert [cells[0].text for _, cells in sheet.rows] == ["1AA", "2AA", "3AA", "4AA", "5AA", "6AA"]
