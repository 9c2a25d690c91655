"""The name of a table that somebody takes."""

from typing import Any

from tests.scenes.base import Base


def routes(_base: Base) -> dict[str, Any]:
    return {"exports:table": "doors"}
