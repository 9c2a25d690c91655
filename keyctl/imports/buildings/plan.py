"""The plan of a file about a building, whatever its form."""

from collections.abc import Mapping

from keyctl.imports.buildings.doors import Doors
from keyctl.imports.buildings.gone import places_gone
from keyctl.imports.buildings.places import Found, Ground, plan_places
from keyctl.imports.buildings.stated import Stated
from keyctl.imports.kinds import Fault, Given
from keyctl.imports.placed import BUILDINGS, DOORS, FLOORS, IDENTIFIERS, SPACES
from keyctl.places.roles import Role

THINGS = (BUILDINGS, FLOORS, SPACES, DOORS, IDENTIFIERS)
TAKERS = (Role.ADMINISTRATOR,)


def plan_stated(given: Given, stated: Stated, sheets: Mapping[str, str]) -> Found:
    """``sheets`` says by kind of place ("door") what the file calls its list."""
    for wrong in stated.faults:
        yield Fault(wrong.message, wrong.sheet, wrong.row, wrong.column, thing=wrong.thing)
    ground = Ground(given.imported.site, stated, sheets)
    yield from plan_places(ground)
    doors = Doors(ground)
    yield from doors.plan()
    yield from places_gone(ground, "space", set(ground.spaces))
    yield from places_gone(ground, "door", doors.met)
