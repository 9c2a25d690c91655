"""What is done to places: written down, changed, removed; and who holds which role there."""

from keyctl.places.services.adding import (
    add_building,
    add_door,
    add_door_with_housing,
    add_floor,
    add_housing,
    add_site,
    add_space,
)
from keyctl.places.services.changing import (
    change_building,
    change_door,
    change_floor,
    change_housing,
    change_space,
)
from keyctl.places.services.people import add_person, grant_role, name_manager
from keyctl.places.services.removing import (
    remove_building,
    remove_door,
    remove_floor,
    remove_housing,
    remove_space,
)
from keyctl.places.services.roles import end_role, give_role, open_site

__all__ = [
    "add_building",
    "add_door",
    "add_door_with_housing",
    "add_floor",
    "add_housing",
    "add_person",
    "add_site",
    "add_space",
    "change_building",
    "change_door",
    "change_floor",
    "change_housing",
    "change_space",
    "end_role",
    "give_role",
    "grant_role",
    "name_manager",
    "open_site",
    "remove_building",
    "remove_door",
    "remove_floor",
    "remove_housing",
    "remove_space",
]
