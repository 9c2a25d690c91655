"""A guide needs nothing but its name."""

from typing import Any

from tests.scenes.base import Base


def routes(_base: Base) -> dict[str, Any]:
    return {"guides:guide": "first-hour"}
