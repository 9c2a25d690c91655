"""Sites, buildings, floors and spaces."""

from typing import Any

from django.db.models import QuerySet

from keyctl.api import selectors
from keyctl.api.models import Scope
from keyctl.api.selectors import Filters
from keyctl.api.serializers.place_facts import (
    BuildingChangeSerializer,
    FloorChangeSerializer,
    NewBuildingSerializer,
    NewFloorSerializer,
    NewSpaceSerializer,
    SpaceChangeSerializer,
)
from keyctl.api.serializers.places import (
    BuildingFilters,
    BuildingSerializer,
    FloorFilters,
    FloorSerializer,
    SiteFilters,
    SiteSerializer,
    SpaceFilters,
    SpaceSerializer,
)
from keyctl.api.views.base import Resource, described
from keyctl.api.views.writing import Bulk, Changes, Creates, Facts, Removes, one_of, written
from keyctl.places import services
from keyctl.places.access import visible_buildings, visible_floors, visible_sites
from keyctl.places.models import Building, Floor, Site, Space

WRITES = dict.fromkeys(("POST", "PATCH", "DELETE"), Scope.ESTATE_WRITE) | {"GET": Scope.ESTATE_READ}


@described("Sites", "One site", SiteSerializer, SiteFilters)
class Sites(Resource):
    """The sites this token reaches. Administrators make and name sites, programs do not."""

    queryset = Site.objects.none()
    serializer_class = SiteSerializer
    filters_class = SiteFilters

    def rows(self, filters: Filters) -> QuerySet[Site]:
        return selectors.sites(self.actor, filters)


@described("Buildings", "One building", BuildingSerializer, BuildingFilters)
@written("a building", new=NewBuildingSerializer, change=BuildingChangeSerializer)
class Buildings(Creates, Changes, Removes):
    queryset = Building.objects.none()
    serializer_class = BuildingSerializer
    filters_class = BuildingFilters
    scopes = WRITES
    detail_route = "building"

    def rows(self, filters: Filters) -> QuerySet[Building]:
        return selectors.buildings(self.actor, filters)

    def make(self, facts: Facts) -> Building:
        site = one_of(visible_sites(self.actor), facts.pop("site"), "site")
        return services.add_building(actor=self.actor, site=site, **facts)

    def change(self, row: Building, facts: Facts) -> None:
        services.change_building(actor=self.actor, building=row, **facts)

    def remove(self, row: Building) -> None:
        services.remove_building(actor=self.actor, building=row)


@described("Floors", "One floor", FloorSerializer, FloorFilters)
@written("a floor", new=NewFloorSerializer, change=FloorChangeSerializer)
class Floors(Creates, Changes, Removes):
    queryset = Floor.objects.none()
    serializer_class = FloorSerializer
    filters_class = FloorFilters
    is_walked = True
    scopes = WRITES
    detail_route = "floor"

    def rows(self, filters: Filters) -> QuerySet[Floor]:
        return selectors.floors(self.actor, filters)

    def make(self, facts: Facts) -> Floor:
        building = one_of(visible_buildings(self.actor), facts.pop("building"), "building")
        return services.add_floor(actor=self.actor, building=building, **facts)

    def change(self, row: Floor, facts: Facts) -> None:
        services.change_floor(actor=self.actor, floor=row, **facts)

    def remove(self, row: Floor) -> None:
        services.remove_floor(actor=self.actor, floor=row)


@described("Spaces", "One space", SpaceSerializer, SpaceFilters)
@written("a space", new=NewSpaceSerializer, change=SpaceChangeSerializer)
class Spaces(Bulk, Changes, Removes):
    """Rooms, or parts of one, that doors join."""

    queryset = Space.objects.none()
    serializer_class = SpaceSerializer
    filters_class = SpaceFilters
    is_walked = True
    scopes = WRITES
    detail_route = "space"

    def rows(self, filters: Filters) -> QuerySet[Space]:
        return selectors.spaces(self.actor, filters)

    def make(self, facts: Facts) -> Space:
        return services.add_space(actor=self.actor, **self._named(facts))

    def change(self, row: Space, facts: Facts) -> None:
        services.change_space(actor=self.actor, space=row, **self._named(facts))

    def remove(self, row: Space) -> None:
        services.remove_space(actor=self.actor, space=row)

    def _named(self, facts: Facts) -> Any:
        if "floor" in facts:
            facts["floor"] = one_of(visible_floors(self.actor), facts["floor"], "floor")
        return facts
