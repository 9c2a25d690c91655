"""Doors and the housings on them."""

from typing import Any

from django.db.models import QuerySet

from keyctl.api import selectors
from keyctl.api.selectors import Filters
from keyctl.api.serializers.place_facts import (
    DoorChangeSerializer,
    HousingChangeSerializer,
    NewDoorSerializer,
    NewHousingSerializer,
)
from keyctl.api.serializers.places import DoorFilters, DoorSerializer, HousingFilters, HousingSerializer
from keyctl.api.views.base import described
from keyctl.api.views.orders import named
from keyctl.api.views.places import WRITES
from keyctl.api.views.writing import Bulk, Changes, Facts, Removes, one_of, written
from keyctl.places import services
from keyctl.places.access import visible_doors, visible_floors, visible_spaces
from keyctl.places.models import Door, Housing


@described("Doors", "One door", DoorSerializer, DoorFilters)
@written("a door", new=NewDoorSerializer, change=DoorChangeSerializer)
class Doors(Bulk, Changes, Removes):
    """Doors and openings, with where they are and what they are to people."""

    queryset = Door.objects.none()
    serializer_class = DoorSerializer
    filters_class = DoorFilters
    is_walked = True
    scopes = WRITES
    detail_route = "door"

    def rows(self, filters: Filters) -> QuerySet[Door]:
        return selectors.doors(self.actor, filters)

    def make(self, facts: Facts) -> Door:
        return services.add_door(actor=self.actor, **self._named(facts))

    def change(self, row: Door, facts: Facts) -> None:
        services.change_door(actor=self.actor, door=row, **self._named(facts))

    def remove(self, row: Door) -> None:
        services.remove_door(actor=self.actor, door=row)

    def _named(self, facts: Facts) -> Any:
        if "floor" in facts:
            facts["floor"] = one_of(visible_floors(self.actor), facts["floor"], "floor")
        if "spaces" in facts:
            facts["spaces"] = named(visible_spaces(self.actor), facts["spaces"], "spaces")
        return facts


@described("Housings", "One housing", HousingSerializer, HousingFilters)
@written("a housing", new=NewHousingSerializer, change=HousingChangeSerializer)
class Housings(Bulk, Changes, Removes):
    """The bodies on doors that take a core, each with the core that is in it."""

    queryset = Housing.objects.none()
    serializer_class = HousingSerializer
    filters_class = HousingFilters
    is_walked = True
    scopes = WRITES
    detail_route = "housing"

    def rows(self, filters: Filters) -> QuerySet[Housing]:
        return selectors.housings(self.actor, filters)

    def make(self, facts: Facts) -> Housing:
        door = one_of(visible_doors(self.actor), facts.pop("door"), "door")
        return services.add_housing(actor=self.actor, door=door, **facts)

    def change(self, row: Housing, facts: Facts) -> None:
        services.change_housing(actor=self.actor, housing=row, **facts)

    def remove(self, row: Housing) -> None:
        services.remove_housing(actor=self.actor, housing=row)
