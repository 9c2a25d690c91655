"""Which functions of the product open the vault, read from its source: by the vault itself, or by one of the
few functions that only open one field."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[3]
# What opens one sealed field and hands it on; whoever calls it opens the vault.
OPENING = {
    "unseal",
    "unseal_bytes",
    "bitting_of",
    "pins_of",
    "design_of",
    "findings_of",
}
# The vault itself, and the invented estate, which no installation runs.
LEFT_OUT = ("keyctl/vault/", "keyctl/demo/")


@cache
def openers() -> set[str]:
    """``keyctl.app.module.function`` for each function that opens the vault."""
    found: set[str] = set()
    for file in sorted((ROOT / "keyctl").rglob("*.py")):
        name = file.relative_to(ROOT).as_posix()
        if not name.startswith(LEFT_OUT):
            module = name.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
            found |= {f"{module}.{function}" for function in _opening(ast.parse(file.read_text()))}
    return found


def _opening(tree: ast.Module) -> Iterator[str]:
    for node, path in _functions(tree, ()):
        own = _own_nodes(node)
        if any(_names_an_opener(each) for each in own):
            yield ".".join(path)


def _functions(
    node: ast.AST, path: tuple[str, ...]
) -> Iterator[tuple[ast.FunctionDef | ast.AsyncFunctionDef, tuple[str, ...]]]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            inner = (*path, child.name)
            if not isinstance(child, ast.ClassDef):
                yield child, inner
            yield from _functions(child, inner)
        else:
            yield from _functions(child, path)


def _own_nodes(function: ast.AST) -> Iterator[ast.AST]:
    """The nodes of a function without those of functions within it; what lambdas do is its own."""
    for child in ast.iter_child_nodes(function):
        if not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield child
            yield from _own_nodes(child)


def _names_an_opener(node: ast.AST) -> bool:
    """A call, or the function handed on by name: both come to open something."""
    if isinstance(node, ast.Attribute):
        return node.attr in OPENING
    return isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id in OPENING
