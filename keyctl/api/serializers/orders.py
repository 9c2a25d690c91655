from typing import Any

from rest_framework import serializers

from keyctl.api.serializers.fields import (
    CoreReferenceSerializer,
    DoorReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
)
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing

MAX_LINES = 500


class HousingReferenceSerializer(serializers.Serializer[Housing]):
    id = serializers.UUIDField()
    door = DoorReferenceSerializer()


class OrderLineSerializer(serializers.Serializer[OrderLine]):
    ordinal = serializers.IntegerField()
    state = serializers.ChoiceField(choices=OrderLine.State.choices)
    core = CoreReferenceSerializer(allow_null=True, help_text="The core to pin, or the one that goes in.")
    housing = HousingReferenceSerializer(allow_null=True, help_text="Swaps only: where it goes in.")
    core_out = CoreReferenceSerializer(allow_null=True, help_text="Swaps only: the core that came out.")
    symbol = serializers.StringRelatedField[Any](allow_null=True, help_text="Cuts only: the key's symbol.")
    count = serializers.IntegerField(allow_null=True, help_text="Cuts only: how many copies.")
    done_at = serializers.DateTimeField(allow_null=True)


class WorkOrderSerializer(serializers.Serializer[WorkOrder]):
    id = serializers.UUIDField()
    number = serializers.IntegerField()
    site = SiteReferenceSerializer()
    kind = serializers.ChoiceField(choices=WorkOrder.Kind.choices)
    state = serializers.ChoiceField(choices=WorkOrder.State.choices)
    title = serializers.CharField()
    opened_at = serializers.DateTimeField()
    due_on = serializers.DateField(allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    lines = OrderLineSerializer(many=True)


class WorkOrderFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    state = serializers.ChoiceField(choices=WorkOrder.State.choices, required=False)
    kind = serializers.ChoiceField(choices=WorkOrder.Kind.choices, required=False)


class NewOrderSerializer(StrictSerializer):
    site = serializers.UUIDField(help_text="The site's id.")
    title = serializers.CharField(max_length=160)
    due_on = serializers.DateField(required=False, allow_null=True)


class NewSwapOrderSerializer(NewOrderSerializer):
    """An order to swap the cores of housings."""

    kind = serializers.ChoiceField(choices=[("swap", "Swap cores")])
    housings = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MAX_LINES, help_text="One line for each."
    )


class NewPinOrderSerializer(NewOrderSerializer):
    """An order to pin cores at the bench."""

    kind = serializers.ChoiceField(choices=[("pin", "Pin cores")])
    cores = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MAX_LINES, help_text="One line for each."
    )


NEW_ORDERS: dict[str, type[NewOrderSerializer]] = {
    "swap": NewSwapOrderSerializer,
    "pin": NewPinOrderSerializer,
}


class KindSerializer(serializers.Serializer[Any]):
    """Read before the rest: it says which facts the order needs. Keys are cut by people, not by programs."""

    kind = serializers.ChoiceField(choices=sorted(NEW_ORDERS))
