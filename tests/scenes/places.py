from typing import Any

from tests.scenes.base import Base

OF_BUILDING = ("building", "new-floor", "new-door", "new-manager")


def routes(base: Base) -> dict[str, Any]:
    building = base.housing.door.building
    return {
        "places:new-building": base.cast.north.pk,
        **{f"places:{name}": building.pk for name in OF_BUILDING},
    }
