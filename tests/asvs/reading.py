"""All code of the product, read once for those who look for what it must not hold."""

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


PYTHON = sorted(file for package in ("keyctl", "pinning") for file in (ROOT / package).rglob("*.py"))


TEMPLATES = sorted((ROOT / "templates").rglob("*.*"))


SCRIPTS = sorted(file for file in (ROOT / "static" / "js").rglob("*.js"))


def name_of(file: Path) -> str:
    return file.relative_to(ROOT).as_posix()


def imported(tree: ast.Module) -> set[str]:
    """Every module and name that is imported, dotted."""
    found = set[str]()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {each.name for each in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{each.name}" for each in node.names}
    return found


TREES = {name_of(file): ast.parse(file.read_text(encoding="utf-8")) for file in PYTHON}


IMPORTS = {name: imported(tree) for name, tree in TREES.items()}


# Where, what is called, and the call.
CALLS = [
    (name, ast.unparse(node.func), node)
    for name, tree in TREES.items()
    for node in ast.walk(tree)
    if isinstance(node, ast.Call)
]


def importers(*modules: str) -> set[str]:
    return {
        name
        for name, found in IMPORTS.items()
        if any(each == module or each.startswith(f"{module}.") for each in found for module in modules)
    }
