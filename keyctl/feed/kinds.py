"""What the feed lists, to which sites each thing belongs, and which tables speak of it, in SQL.

``n`` and ``o`` are a watched row after and before: triggers put what stands for them.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Kind:
    """``site`` is where its sites are read, ``joined`` the way there from its table ``t``. They change only
    with ``place``, a column of it; none where rows of another table say so, or where it is at several."""

    name: str
    table: str
    site: str = "t.site_id"
    joined: str = ""
    place: str = "site_id"

    def sites(self, things: str) -> str:
        """(thing, site) of those that are there, of the things that the SQL names."""
        columns = f"t.id AS thing, {self.site} AS site"
        return f"SELECT {columns} FROM {self.table} t {self.joined} WHERE t.id IN ({things})"  # noqa: S608


_IN_BUILDING = "JOIN places_building b ON b.id = t.building_id"
_ON_FLOOR = "JOIN places_floor f ON f.id = t.floor_id JOIN places_building b ON b.id = f.building_id"
_ON_DOOR = f"JOIN places_door d ON d.id = t.door_id {_ON_FLOOR.replace('t.floor_id', 'd.floor_id')}"
_AT_SITES = "JOIN systems_keysystem_sites m ON m.keysystem_id = {}"
_ALL = (
    Kind("site", "places_site", "t.id", place="id"),
    Kind("building", "places_building"),
    Kind("floor", "places_floor", "b.site_id", _IN_BUILDING, "building_id"),
    Kind("space", "places_space", "b.site_id", _ON_FLOOR, "floor_id"),
    Kind("door", "places_door", "b.site_id", _ON_FLOOR, "floor_id"),
    Kind("housing", "places_housing", "b.site_id", _ON_DOOR, "door_id"),
    Kind("core", "cores_core"),
    Kind("key-system", "systems_keysystem", "m.site_id", _AT_SITES.format("t.id"), ""),
    Kind("key", "systems_keysymbol", "m.site_id", _AT_SITES.format("t.system_id"), ""),
    Kind("cabinet", "keys_cabinet"),
    Kind("key-copy", "keys_keycopy"),
    Kind("holder", "keys_holder"),
    Kind("request", "approvals_keyrequest", "b.site_id", _IN_BUILDING, "building_id"),
    Kind("work-order", "orders_workorder"),
)
KINDS: Final = {kind.name: kind for kind in _ALL}


@dataclass(frozen=True)
class Watch:
    """A table whose rows speak of a thing: by ``column``, or by ``follow``, SQL of the things under a row.

    ``moved``: an update counts only where that column changes. What follows a row is looked at then alone.
    """

    table: str
    kind: str
    column: str = "id"
    moved: str = ""
    follow: str = ""


_UNDER_FLOOR = {
    "space": "SELECT id FROM places_space WHERE floor_id IN ({})",
    "door": "SELECT id FROM places_door WHERE floor_id IN ({})",
    "housing": "SELECT id FROM places_housing WHERE door_id IN "
    "(SELECT id FROM places_door WHERE floor_id IN ({}))",
}
_FLOORS = "SELECT id FROM places_floor WHERE building_id = n.id"
_UNDER_BUILDING = {
    "floor": _FLOORS,
    "request": "SELECT id FROM approvals_keyrequest WHERE building_id = n.id",
    **{kind: follow.format(_FLOORS) for kind, follow in _UNDER_FLOOR.items()},
}
_KEYS = "SELECT id FROM systems_keysymbol WHERE system_id = n.keysystem_id"
_HOUSINGS = "SELECT id FROM places_housing WHERE door_id = n.id"

WATCHES: Final = (
    *(Watch(kind.table, kind.name) for kind in _ALL),
    # What belongs to a thing and has no address of its own.
    Watch("places_door_spaces", "door", "door_id"),
    Watch("keys_custody", "key-copy", "copy_id"),
    Watch("approvals_step", "request", "request_id"),
    Watch("approvals_grant", "request", "request_id"),
    Watch("orders_orderline", "work-order", "order_id"),
    # A housing tells of the core in it.
    Watch("cores_core", "housing", "housing_id", moved="housing_id"),
    # A system comes to a site, or leaves it, with all its keys.
    Watch("systems_keysystem_sites", "key-system", "keysystem_id"),
    Watch("systems_keysystem_sites", "key", follow=_KEYS),
    # Places that move take along what is in them.
    Watch("places_door", "housing", moved="floor_id", follow=_HOUSINGS),
    *(
        Watch("places_floor", kind, moved="building_id", follow=follow.format("n.id"))
        for kind, follow in _UNDER_FLOOR.items()
    ),
    *(
        Watch("places_building", kind, moved="site_id", follow=follow)
        for kind, follow in _UNDER_BUILDING.items()
    ),
)
