"""The estate as it stands, row by row of every table that imports write: what take and undo must leave."""

from typing import Any

from django.db import models

from keyctl.cores.models import Core, Keying
from keyctl.keys.models import Holder, KeyCopy
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Space
from keyctl.systems.models import KeySymbol, KeySystem

TABLES: tuple[type[models.Model], ...] = (
    *(Building, Floor, Space, Door, Housing, Identifier, Door.spaces.through),
    *(KeySystem, KeySymbol, Core, Keying, KeyCopy, Holder),
)
# Counters go on when a thing is set back, and rows of a join have no identity: compared are their values.
LEFT_OUT = {"version"}
JOINS = {Door.spaces.through, Keying}


def estate() -> dict[str, list[Any]]:
    return {model._meta.label: _rows(model) for model in TABLES}


def _rows(model: type[models.Model]) -> list[Any]:
    left_out = LEFT_OUT | ({"id", "made_at"} if model in JOINS else set())
    names = [field.attname for field in model._meta.concrete_fields if field.attname not in left_out]
    return sorted(map(repr, model._default_manager.order_by().values_list(*names)))


def by_number() -> dict[str, tuple[Any, ...]]:
    """The doors without their identifiers and tags: two ways to the same estate are compared by it."""
    return {
        f"{door.building.code}/{door.floor.label}/{door.number}": (
            door.name,
            door.door_class,
            door.is_egress,
            door.is_fire_rated,
            door.hardware_set,
            sorted(space.number for space in door.spaces.all()),
            sorted(door.housings.values_list("kind", "label", "construction")),
            sorted(door.identifiers.values_list("value", flat=True)),
        )
        for door in Door.objects.with_places()
    }
