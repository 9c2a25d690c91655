from typing import Any
from urllib.parse import urlsplit

from rest_framework import serializers

from keyctl.api.serializers.fields import SiteReferenceSerializer, StrictSerializer
from keyctl.webhooks.models import Delivery, Endpoint, Try


class WebhookSerializer(serializers.Serializer[Endpoint]):
    """An endpoint of another program. Neither its whole address nor its secret is in any answer."""

    id = serializers.UUIDField()
    name = serializers.CharField()
    host = serializers.SerializerMethodField(help_text="The host of its address.")
    sites = SiteReferenceSerializer(many=True, source="sites.all")
    told_of = serializers.SerializerMethodField(help_text="Families of events.")
    state = serializers.ChoiceField(choices=Endpoint.State.choices)
    failing_since = serializers.DateTimeField(
        allow_null=True, help_text="Since when nothing has arrived; null while the last one did."
    )

    def get_host(self, endpoint: Endpoint) -> str:
        return urlsplit(endpoint.url).hostname or ""

    def get_told_of(self, endpoint: Endpoint) -> list[str]:
        return endpoint.families.split()


class TrySerializer(serializers.Serializer[Try]):
    at = serializers.DateTimeField()
    status = serializers.IntegerField(allow_null=True, help_text="The answer's code; null where none came.")
    milliseconds = serializers.IntegerField()


class DeliverySerializer(serializers.Serializer[Delivery]):
    id = serializers.UUIDField()
    message_id = serializers.CharField(help_text="The webhook-id that it is sent under, each time the same.")
    type = serializers.CharField(help_text="The event's kind.")
    number = serializers.IntegerField(allow_null=True, help_text="The event's number; null for a test.")
    state = serializers.ChoiceField(choices=Delivery.State.choices)
    written_at = serializers.DateTimeField()
    delivered_at = serializers.DateTimeField(allow_null=True)
    next_at = serializers.SerializerMethodField(help_text="When it goes out next; null if it does not.")
    tries = TrySerializer(many=True, source="tries.all")

    def get_next_at(self, delivery: Delivery) -> Any:
        waits = delivery.state == Delivery.State.WAITING
        return serializers.DateTimeField().to_representation(delivery.next_at) if waits else None


class WebhookFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only those that are told of this site (id).")


class DeliveryFilters(StrictSerializer):
    state = serializers.ChoiceField(choices=Delivery.State.choices, required=False)
