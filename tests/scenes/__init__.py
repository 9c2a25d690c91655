"""One of everything at the north site, for the tests that walk every route.

A module of this package belongs to an app, or to a few small ones: ``routes(base)`` makes what its routes
name and answers with the parameter's value for each. A new route with a parameter wants a line in one.
"""

from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from tests.cast import Cast
from tests.scenes.base import Base, build_base


def build_routes(cast: Cast) -> tuple[Base, dict[str, Any]]:
    base = build_base(cast)
    found: dict[str, Any] = {}
    for module in sorted(name for _, name, _ in iter_modules(__path__) if name != "base"):
        found |= import_module(f"{__name__}.{module}").routes(base)
    return base, found
