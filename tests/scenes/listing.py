"""A view that the locksmith keeps, and acts of theirs on many doors, one for each step."""

from typing import Any

from keyctl.listing.models import SavedView
from tests.keyctl.listing.acting import begun, done, tried
from tests.scenes.base import Base

OF_A_LIST = ("columns", "views", "keep-view", "open-whole", "begin")


def routes(base: Base) -> dict[str, Any]:
    smith, doors = base.cast.locksmith, [base.housing.door]
    facts = {"hardware_set": "HW-SCENE"}
    view = SavedView.objects.create(owner=smith, list_name="doors", name="Scene")
    chosen = begun(smith, "doors", "hardware", doors)
    found: dict[str, Any] = {f"listing:{name}": "doors" for name in OF_A_LIST}
    found |= {f"listing:{name}": view.pk for name in ("view", "remove-view", "open-with")}
    found |= {f"listing:{name}": chosen.pk for name in ("act", "try")}
    found["listing:do"] = tried(smith, "doors", "hardware", doors, **facts).pk
    found["listing:drop"] = begun(smith, "doors", "hardware", doors).pk
    found["listing:undo"] = done(smith, "doors", "hardware", doors, **facts).pk
    return found
