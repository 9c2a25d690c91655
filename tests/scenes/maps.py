from typing import Any

from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    floor = base.housing.door.floor
    return {
        "maps:site": base.cast.north.pk,
        "maps:building": floor.building_id,
        "maps:floor": floor.pk,
        "maps:keys-of-site": base.cast.north.pk,
        "maps:keys-of-system": base.system.pk,
        "maps:copy": base.copy.pk,
        "maps:core": base.core.pk,
    }
