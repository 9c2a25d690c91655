"""Webhooks and their log, to be read: people make them and change them."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.api.models import Scope
from keyctl.api.schema import answers
from keyctl.api.selectors import Filters
from keyctl.api.serializers.webhooks import (
    DeliveryFilters,
    DeliverySerializer,
    WebhookFilters,
    WebhookSerializer,
)
from keyctl.api.terms import Terms, under
from keyctl.api.views.base import Resource, described
from keyctl.places.access import visible_sites
from keyctl.webhooks.access import endpoints_of
from keyctl.webhooks.models import Delivery, Endpoint


@described("Webhooks", "One webhook", WebhookSerializer, WebhookFilters)
class Webhooks(Resource):
    """Endpoints that are told of sites of this token alone."""

    queryset = Endpoint.objects.none()
    serializer_class = WebhookSerializer
    filters_class = WebhookFilters
    scopes = {"GET": Scope.EVENTS_READ}

    def rows(self, filters: Filters) -> QuerySet[Endpoint]:
        rows = endpoints_of(visible_sites(self.actor)).prefetch_related("sites")
        return rows.filter(sites=filters["site"]) if "site" in filters else rows


class WebhookDeliveries(Resource):
    """What an endpoint was told, with every try. What the other program answered stands on the page alone."""

    queryset = Delivery.objects.none()
    serializer_class = DeliverySerializer
    filters_class = DeliveryFilters
    scopes = {"GET": Scope.EVENTS_READ}

    def rows(self, filters: Filters) -> QuerySet[Delivery]:
        reached = endpoints_of(visible_sites(self.actor))
        endpoint = get_object_or_404(reached, pk=self.kwargs["pk"])
        return endpoint.deliveries.filter(**filters).prefetch_related("tries")

    @extend_schema(
        summary="Deliveries of a webhook",
        parameters=[DeliveryFilters],
        responses=answers({200: DeliverySerializer(many=True)}, 400, 404),
    )
    @under(Terms(is_sparse=True))
    def list(self, request: Request, pk: UUID) -> Response:  # type: ignore[override]  # noqa: ARG002
        """Of one webhook, which ``rows`` reads from the address."""
        return super().list(request)
