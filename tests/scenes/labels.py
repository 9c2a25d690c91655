from decimal import Decimal
from typing import Any

from keyctl.labels.services import add_grid
from tests.scenes.base import Base

GRID = {
    "name": "Three by seven",
    "paper": "a4",
    "columns": 3,
    "rows": 7,
    "width": Decimal("63.5"),
    "height": Decimal("38.1"),
    "left": Decimal("7.2"),
    "top": Decimal("15.1"),
    "step_x": Decimal("66.0"),
    "step_y": Decimal("38.1"),
}


def routes(base: Base) -> dict[str, Any]:
    site = base.cast.north
    grid = add_grid(actor=base.cast.locksmith, site=site, **GRID)
    return {"labels:print": site.pk, "labels:new-grid": site.pk, "labels:grid": grid.pk}
