"""Cores: which there are and where each is."""

from django.db.models import QuerySet

from keyctl.api import selectors
from keyctl.api.selectors import Filters
from keyctl.api.serializers.cores import CoreFilters, CoreSerializer
from keyctl.api.views.base import Resource, described
from keyctl.cores.models import Core


@described("Cores", "One core", CoreSerializer, CoreFilters)
class Cores(Resource):
    """Cores by their tags: system, format and where each is. How a core is pinned is in no answer."""

    queryset = Core.objects.none()
    serializer_class = CoreSerializer
    filters_class = CoreFilters

    def rows(self, filters: Filters) -> QuerySet[Core]:
        return selectors.cores(self.actor, filters)
