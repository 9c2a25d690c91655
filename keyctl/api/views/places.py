"""Sites, buildings, doors, housings; and who opens a door."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.api import selectors
from keyctl.api.schema import answers
from keyctl.api.selectors import Filters
from keyctl.api.serializers.cores import OpenersSerializer
from keyctl.api.serializers.places import (
    BuildingFilters,
    BuildingSerializer,
    DoorFilters,
    DoorSerializer,
    HousingFilters,
    HousingSerializer,
    SiteFilters,
    SiteSerializer,
)
from keyctl.api.views.base import Resource, described
from keyctl.cores.selectors import openers_of
from keyctl.places.models import Building, Door, Housing, Site


@described("Sites", "One site", SiteSerializer, SiteFilters)
class Sites(Resource):
    """The sites this token reaches."""

    queryset = Site.objects.none()
    serializer_class = SiteSerializer
    filters_class = SiteFilters

    def rows(self, filters: Filters) -> QuerySet[Site]:
        return selectors.sites(self.actor, filters)


@described("Buildings", "One building", BuildingSerializer, BuildingFilters)
class Buildings(Resource):
    queryset = Building.objects.none()
    serializer_class = BuildingSerializer
    filters_class = BuildingFilters

    def rows(self, filters: Filters) -> QuerySet[Building]:
        return selectors.buildings(self.actor, filters)


@described("Doors", "One door", DoorSerializer, DoorFilters)
class Doors(Resource):
    """Doors and openings, with the building and floor they are in."""

    queryset = Door.objects.none()
    serializer_class = DoorSerializer
    filters_class = DoorFilters

    def rows(self, filters: Filters) -> QuerySet[Door]:
        return selectors.doors(self.actor, filters)

    @extend_schema(
        summary="Who opens a door",
        description=(
            "Every key that turns a core in this door or takes it out, and why; all of them in one "
            "answer. It names keys by their symbols, never the people who hold them."
        ),
        responses=answers({200: OpenersSerializer}, 404),
    )
    def openers(self, _request: Request, pk: UUID) -> Response:
        door = get_object_or_404(self.rows({}), pk=pk)
        return Response(OpenersSerializer({"results": openers_of(self.actor, door)}).data)


@described("Housings", "One housing", HousingSerializer, HousingFilters)
class Housings(Resource):
    """The bodies on doors that take a core, each with the core that is in it."""

    queryset = Housing.objects.none()
    serializer_class = HousingSerializer
    filters_class = HousingFilters

    def rows(self, filters: Filters) -> QuerySet[Housing]:
        return selectors.housings(self.actor, filters)
