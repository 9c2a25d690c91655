"""No import leads back to where it came from: not between modules, and not between the parts of an app.

Import-linter holds the order of the apps; this finds circles wherever they are, inside functions too.
"""

import ast
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).resolve().parents[1]
Graph = Mapping[str, set[str]]

# Both halves of a pair, where something outside demands that each knows the other.
PAIRS = {
    # Django asks the table for its store, and the store for its table.
    frozenset({"keyctl.accounts.models", "keyctl.accounts.sessions"}),
    # Rows that wait in the queue name the function by this place; a job that is given back goes to it again.
    frozenset({"keyctl.jobs.execution", "keyctl.jobs.queue"}),
}
# Imports inside a function and not in an `apps.py`, whose purpose they are, and why.
INSIDE = {
    "keyctl/accounts/models.py": "a pair, above",
    "keyctl/jobs/queue.py": "a pair, above",
    "keyctl/lib/confined/inside.py": "a child sets its limits and its path before it loads anything of ours",
    "pinning/audit.py": "NumPy: only whoever proves an estate needs it",
    "pinning/incidental.py": "NumPy: only large counts need it",
}


@cache
def imports() -> dict[str, set[str]]:
    """Who imports whom; a name that an annotation alone needs does not count."""
    found = grimp.build_graph("keyctl", "pinning", exclude_type_checking_imports=True, cache_dir=None)
    return {module: found.find_modules_directly_imported_by(module) for module in found.modules}


def by_parts(graph: Graph, depth: int) -> dict[str, set[str]]:
    """The same for packages: names of so many parts stand for all below them."""
    found: dict[str, set[str]] = {}
    for module, imported in graph.items():
        part = cut(module, depth)
        found.setdefault(part, set()).update({cut(each, depth) for each in imported} - {part})
    return found


def cut(name: str, depth: int) -> str:
    return ".".join(name.split(".")[:depth])


def circles(graph: Graph) -> set[frozenset[str]]:
    """The strongly connected parts of more than one member: of each, who is reached and reaches back."""
    reached = {each: reach(graph, each) for each in in_circles(graph)}
    return {
        frozenset({each} | {other for other in found if each in reached.get(other, ())})
        for each, found in reached.items()
        if each in found
    }


def in_circles(graph: Graph) -> set[str]:
    """What is left when again and again whatever imports nothing of the rest is taken away."""
    left = {each: set(imported) & graph.keys() for each, imported in graph.items()}
    while ends := {each for each, imported in left.items() if not imported}:
        left = {each: imported - ends for each, imported in left.items() if each not in ends}
    return set(left)


def reach(graph: Graph, start: str) -> set[str]:
    found, waiting = set[str](), [start]
    while waiting:
        new = graph.get(waiting.pop(), set()) - found
        found |= new
        waiting += new
    return found


def test_circles_are_found() -> None:
    graph = {"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}, "e": {"f"}, "f": {"e"}, "g": set[str]()}
    assert circles(graph) == {frozenset("abc"), frozenset("ef")}
    assert circles({"a": {"b"}, "b": {"c"}, "c": set()}) == set()


def test_no_module_leads_back_to_itself() -> None:
    assert len(imports()) > 1000
    assert circles(imports()) == PAIRS


@pytest.mark.parametrize("depth", [2, 3, 4])
def test_no_package_leads_back_to_itself(depth: int) -> None:
    assert circles(by_parts(imports(), depth)) <= PAIRS


def imports_in_functions(file: Path) -> Iterator[str]:
    """Of our own packages."""
    for function in ast.walk(ast.parse(file.read_text())):
        if isinstance(function, ast.FunctionDef):
            for node in ast.walk(function):
                if isinstance(node, ast.ImportFrom) and cut(node.module or "", 1) in {"keyctl", "pinning"}:
                    yield node.module or ""


def test_imports_inside_functions_have_their_reason() -> None:
    files = [file for package in ("keyctl", "pinning") for file in (ROOT / package).rglob("*.py")]
    others = [file for file in files if "migrations" not in file.parts and file.name != "apps.py"]
    hiding = [file for file in others if "    from " in file.read_text()]
    assert {file.relative_to(ROOT).as_posix() for file in hiding if any(imports_in_functions(file))} == set(
        INSIDE
    )
