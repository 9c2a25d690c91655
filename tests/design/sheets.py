"""Our style sheets as data, read by tinycss2 (CSS Syntax Level 3), which shares nothing with them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tinycss2  # type: ignore[import-untyped]  # it tells no types

CSS = Path(__file__).resolve().parents[2] / "static" / "css"
# Paper has a sheet of its own, and templates of its own.
OF_PAPER = "print-sheet.css"
CLASS = re.compile(r"\.(-?[a-zA-Z_][\w-]*)")
VARIABLE = re.compile(r"var\(--([a-z0-9-]+)")


@dataclass(frozen=True)
class Rule:
    file: str
    # The at-rules around it, from outside in.
    within: tuple[str, ...]
    selector: str
    facts: dict[str, str]

    @property
    def classes(self) -> set[str]:
        return set(CLASS.findall(self.selector))

    def variables(self, *names: str) -> list[str]:
        """The tokens that these properties are set by."""
        return [token for name in names for token in VARIABLE.findall(self.facts.get(name, ""))]


def rules(*files: str) -> list[Rule]:
    """Of the files named, or of all but what is for paper."""
    named = files or [file.name for file in sorted(CSS.glob("*.css")) if file.name != OF_PAPER]
    return [rule for name in named for rule in _read(name, (), _parsed((CSS / name).read_text()))]


def _parsed(text: Any) -> list[Any]:
    return list(tinycss2.parse_rule_list(text, skip_comments=True, skip_whitespace=True))


def _read(file: str, within: tuple[str, ...], nodes: list[Any]) -> Iterator[Rule]:
    for node in nodes:
        if node.type == "at-rule" and node.content and node.lower_at_keyword != "keyframes":
            words = f"@{node.lower_at_keyword} {tinycss2.serialize(node.prelude).strip()}"
            yield from _read(file, (*within, words), _parsed(node.content))
        elif node.type == "qualified-rule":
            yield Rule(file, within, tinycss2.serialize(node.prelude).strip(), _facts(node.content))


def _facts(content: Any) -> dict[str, str]:
    told = tinycss2.parse_declaration_list(content, skip_comments=True, skip_whitespace=True)
    return {each.name: tinycss2.serialize(each.value).strip() for each in told if each.type == "declaration"}
