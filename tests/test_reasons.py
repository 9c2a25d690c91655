"""What `pinning` tells reaches pages, so each text of it is marked for translators, whole, facts beside it.

Every module that the engine opens, or that such a module opens, is read: words outside of `said` and
`counted` are found. Programming errors (`PinningError`, `IndexError`) reach nobody and stay plain.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
MARKS = {"said": 1, "counted": 2}
PLAIN_ERRORS = {"PinningError", "IndexError"}
# Two words and a space between them are said to a person.
WORDS = re.compile(r"[A-Za-z]{2,},? [a-z]{2,}")
# What no page shows, by module, each with the reason.
UNSAID = {
    "columns": {"no pins": "how pins are printed; pages have words of their own"},
    "formats": {"inline format": "the name of a format that a command describes"},
    "pages": {"vertical group": "a level of pages, by its name", "horizontal group": "the same"},
    "consequences": {
        "by the bittings that are kept": "pages have words of their own; the command says this",
        "no bitting keeps it out of the lock's other keys": "the same",
        " opens it too, and is made below ": "the same",
        " opens lock ": "the same",
    },
}


def opened_by(file: Path) -> set[str]:
    """The modules of pinning that it imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module == "pinning":
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("pinning."):
            found.add(str(node.module).removeprefix("pinning."))
        elif isinstance(node, ast.Import):
            found |= {n.name.removeprefix("pinning.") for n in node.names if n.name.startswith("pinning.")}
    return found


def reached() -> set[str]:
    """Whatever the engine opens, and what that opens in turn."""
    todo = set().union(*map(opened_by, (ROOT / "keyctl" / "engine").glob("*.py")))
    found: set[str] = set()
    while todo:
        module = todo.pop()
        found.add(module)
        todo |= opened_by(ROOT / "pinning" / f"{module}.py") - found
    return found


def unmarked(tree: ast.AST) -> Iterator[str]:
    """Words that no translator is given."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.arg) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):
            continue  # a type, a docstring
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in PLAIN_ERRORS:
                continue
            if texts := MARKS.get(node.func.id):
                yield from badly_marked(node, texts)
                continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and WORDS.search(node.value):
            yield node.value
        yield from unmarked(node)


def badly_marked(call: ast.Call, texts: int) -> Iterator[str]:
    """A text that is put together is none that a translator could be given."""
    for text in call.args[:texts]:
        if not isinstance(text, ast.Constant):
            yield ast.unparse(text)
    for fact in (*call.args[texts:], *(word.value for word in call.keywords)):
        yield from unmarked(ast.Expression(fact))


@pytest.mark.parametrize("module", sorted(reached()))
def test_every_reason_is_marked_for_translators(module: str) -> None:
    tree = ast.parse((ROOT / "pinning" / f"{module}.py").read_text())
    assert set(unmarked(tree)) == set(UNSAID.get(module, ()))


def test_commands_are_not_read_and_pages_are() -> None:
    assert {"stacks", "formats", "inference", "charts", "fields"} <= reached()
    assert reached().isdisjoint({"commands", "inputs"})
    assert UNSAID.keys() <= reached()


@pytest.mark.parametrize(
    "code",
    [
        'refusals.add("depth", "give another one.")',
        'refusals.add("depth", f"{name}: give another one.")',
        'refusals.add("depth", said(f"{name}: give it."))',
        'refusals.add("depth", said("{name}: give it.", name="that key"))',
        'refusals.add("depth", said(message))',
    ],
)
def test_a_reason_without_its_mark_is_found_out(code: str) -> None:
    assert list(unmarked(ast.parse(code))) != []
    assert list(unmarked(ast.parse('refusals.add("depth", said("{name}: give it.", name=name))'))) == []
