"""Every function that opens the vault is known and was looked at: what it opens stays inside, or goes to a
person through the gate. A new one fails here until somebody has read it and put it on the list."""

import ast
import re

import pytest

from tests.keyctl.reveals.openers import OPENING, ROOT, openers
from tests.keyctl.reveals.reviewed import BEHIND_THE_GATE, INSIDE, NO_BITTING

RENAMED = re.compile(r"\b(\w+) as \w+")
REVIEWED = INSIDE | BEHIND_THE_GATE | NO_BITTING


def test_every_function_that_opens_the_vault_was_reviewed() -> None:
    found = openers()
    assert found - REVIEWED.keys() == set(), "read it: where does what it opens go? Then put it on the list"
    assert REVIEWED.keys() - found == set(), "these are gone; take them off the list"


def test_each_stands_on_one_list() -> None:
    assert len(REVIEWED) == len(INSIDE) + len(BEHIND_THE_GATE) + len(NO_BITTING)


@pytest.mark.parametrize("name", BEHIND_THE_GATE)
def test_what_a_person_sees_is_opened_where_the_gate_is_imported(name: str) -> None:
    """The module itself, or the one that hands it to the gate."""
    text = (ROOT / BEHIND_THE_GATE[name]).read_text()
    names = {
        alias.name
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert names & {"Secret", "reveal", "reveal_one", "shown_for", "pins_to_show", "cuts_to_show"}


def test_no_page_opens_a_bitting_by_itself() -> None:
    """Views, forms, template tags and serializers ask services; those of them that open something open no
    bitting."""
    outer = (".views", ".forms", ".templatetags", ".serializers")
    pages = {name for name in openers() if any(part in name for part in outer)}
    assert pages <= NO_BITTING.keys()


def test_the_vault_is_opened_by_these_names_alone() -> None:
    """Nobody imports an opener under another name, which this look would not see."""
    for file in sorted((ROOT / "keyctl").rglob("*.py")):
        renamed = [each for each in RENAMED.findall(file.read_text()) if each in OPENING]
        assert renamed == [], f"{file}: {renamed}"
