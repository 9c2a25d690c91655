from typing import Any

from tests.factories import make_space
from tests.scenes.base import Base

OF_BUILDING = ("building", "new-floor", "new-door", "new-manager", "change-building", "remove-building")
OF_FLOOR = ("floor", "new-space", "remove-floor")
OF_SPACE = ("space", "remove-space")
OF_DOOR = ("door", "new-housing", "remove-door")
OF_HOUSING = ("housing", "remove-housing")


def routes(base: Base) -> dict[str, Any]:
    door = base.housing.door
    space = make_space(door.floor)
    named = (
        (OF_BUILDING, door.building),
        (OF_FLOOR, door.floor),
        (OF_SPACE, space),
        (OF_DOOR, door),
        (OF_HOUSING, base.housing),
    )
    return {
        "places:new-building": base.cast.north.pk,
        "exports:cobie": door.building.pk,
        **{f"places:{name}": place.pk for names, place in named for name in names},
    }
