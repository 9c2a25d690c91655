"""What the checks of history find reads in the language of the page, though they tell it in English."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.utils import translation

from keyctl.audit import checking, guards, verifier
from keyctl.audit.wording import FINDINGS
from keyctl.lib import retold
from keyctl.lib.marked import PLACE

# Those of a proof or a receipt are told by the file that checks alone.
ONLY_THERE = {"proof_findings", "receipt_findings", "_findings", "main"}


def told_in(file: str) -> Iterator[str]:
    """Each sentence that is yielded, with 7 in its places."""
    for function in ast.walk(ast.parse(Path(file).read_text())):
        if not isinstance(function, ast.FunctionDef) or function.name in ONLY_THERE:
            continue
        for node in ast.walk(function):
            if isinstance(node, ast.Yield):
                yield from sentence_of(node.value)
            elif isinstance(node, ast.GeneratorExp):
                yield from sentence_of(node.elt)
            elif isinstance(node, ast.List):
                for item in node.elts:
                    yield from sentence_of(item)


def sentence_of(node: ast.expr | None) -> Iterator[str]:
    if not isinstance(node, ast.JoinedStr):
        return
    words = "".join(
        str(part.value) if isinstance(part, ast.Constant) else filled(part) for part in node.values
    )
    if ": " in words:
        yield words


def filled(part: ast.expr) -> str:
    """What is wrong with one checkpoint begins with its name."""
    is_checkpoint = isinstance(part, ast.FormattedValue) and ast.unparse(part.value) == "name"
    return "checkpoint 7" if is_checkpoint else "7"


def everything_told() -> set[str]:
    found = {words for module in (verifier, checking) for words in told_in(str(module.__file__))}
    return found | {words.replace("checkpoint 7", "7") for words in told_in(str(guards.__file__))}


def test_every_finding_is_known_again_by_its_text() -> None:
    patterns = {text: retold._pattern(text) for text in FINDINGS}
    told = everything_told()
    assert {
        words for words in told if not any(known.fullmatch(words) for known in patterns.values())
    } == set()
    idle = {text for text, known in patterns.items() if not any(map(known.fullmatch, told))}
    assert idle == set()


@pytest.mark.parametrize("text", FINDINGS)
def test_no_page_tells_it_in_english(text: str) -> None:
    told = PLACE.sub("7", text)
    with translation.override("de"):
        assert retold.retold(told) not in {told, ""}
    assert retold.retold(told) == told


def test_a_finding_inside_of_a_sentence_is_told_too() -> None:
    told = (
        "Findings: 2. First: entry 4: it is not what was recorded. "
        "Keep the database and the checkpoints as they are."
    )
    with translation.override("de"):
        assert "Eintrag 4: Er ist nicht, was aufgezeichnet wurde." in retold.retold(told)
        assert retold.retold("What nobody marked.") == "What nobody marked."
