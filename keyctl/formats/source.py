"""Where the engine finds a shop's format by its id."""

from typing import Any

from keyctl import engine
from keyctl.formats.models import ShopFormat


def parameters_of(format_id: str) -> dict[str, Any] | None:
    """None for a format of the package, which needs no question to the database, and for an unknown id."""
    if format_id in built_in_names():
        return None
    found = ShopFormat.objects.filter(format_id=format_id).first()
    return found.mapping if found else None


def built_in_names() -> dict[str, str]:
    """The names of the package's formats by id."""
    return dict(engine.format_names())
