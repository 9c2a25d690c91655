"""History for programs: that something happened, and to what."""

from django.db.models import QuerySet

from keyctl.api import key_selectors as selectors
from keyctl.api.key_selectors import Filters
from keyctl.api.models import Scope
from keyctl.api.serializers.events import EventFilters, EventSerializer
from keyctl.api.views.base import Resource, described
from keyctl.audit.models import Link


@described("Events", "One event", EventSerializer, EventFilters)
class Events(Resource):
    """What happened at this token's sites, oldest first, by kinds and ids.

    Whoever follows `next`, and later asks `after` the last number, misses nothing: numbers are given in
    the order in which things were written down for good.
    """

    queryset = Link.objects.none()
    serializer_class = EventSerializer
    filters_class = EventFilters
    is_walked = True
    scopes = {"GET": Scope.EVENTS_READ}
    order_key = "number"

    def rows(self, filters: Filters) -> QuerySet[Link]:
        return selectors.events(self.actor, filters)
