"""Published figures, read from fixtures/published; every entry carries its source."""

import tomllib
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "fixtures" / "published"


def figures(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))


def entries(name: str, table: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = figures(name)[table]
    return found
