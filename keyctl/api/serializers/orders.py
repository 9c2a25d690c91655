from typing import Any

from rest_framework import serializers

from keyctl.api.serializers.fields import (
    CoreReferenceSerializer,
    DoorReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
    Words,
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
    core = CoreReferenceSerializer(
        allow_null=True, help_text="The core to pin or to decode, or the one that goes in."
    )
    housing = HousingReferenceSerializer(
        allow_null=True, help_text="Swaps and doors kept shut: where it goes in."
    )
    door = DoorReferenceSerializer(allow_null=True, help_text="Inspections only: the door to look over.")
    system = serializers.CharField(
        source="system.code",
        allow_null=True,
        help_text="Recoveries only: the code of the system whose control key is lost.",
    )
    core_out = CoreReferenceSerializer(allow_null=True, help_text="Swaps only: the core that came out.")
    symbol = serializers.StringRelatedField[Any](allow_null=True, help_text="Cuts only: the key's symbol.")
    count = serializers.IntegerField(allow_null=True, help_text="Cuts only: how many copies.")
    shut_at = serializers.DateTimeField(allow_null=True, help_text="Doors kept shut only: since when.")
    lifted_at = serializers.DateTimeField(
        allow_null=True, help_text="Doors kept shut only: when its own core went back in."
    )
    unreached_at = serializers.DateTimeField(
        allow_null=True, help_text="The last time that the door could not be reached."
    )
    done_at = serializers.DateTimeField(allow_null=True)


class WorkOrderSerializer(serializers.Serializer[WorkOrder]):
    id = serializers.UUIDField()
    number = serializers.IntegerField()
    site = SiteReferenceSerializer()
    kind = serializers.ChoiceField(choices=WorkOrder.Kind.choices)
    state = serializers.ChoiceField(choices=WorkOrder.State.choices)
    waits_for = serializers.CharField(help_text="Why it stands still; empty unless it is waiting.")
    title = serializers.CharField()
    part_of = serializers.UUIDField(
        source="part_of_id", allow_null=True, help_text="The order of the area that it belongs to."
    )
    opened_at = serializers.DateTimeField()
    due_on = serializers.DateField(allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    lines = OrderLineSerializer(many=True)


class WorkOrderFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    state = serializers.ChoiceField(choices=WorkOrder.State.choices, required=False)
    kind = serializers.ChoiceField(choices=WorkOrder.Kind.choices, required=False)
    number = serializers.IntegerField(
        required=False, min_value=1, max_value=2**31 - 1, help_text="The order with this number."
    )
    part_of = serializers.UUIDField(required=False, help_text="Only parts of this order of an area (id).")
    core = serializers.UUIDField(required=False, help_text="Only orders with a line about this core (id).")
    door = serializers.UUIDField(required=False, help_text="Only orders with a line about this door (id).")
    is_open = serializers.BooleanField(required=False, help_text="Only what is unfinished, or only the rest.")
    opened_since = serializers.DateTimeField(required=False, help_text="Only what was opened since then.")
    due_before = serializers.DateField(required=False, help_text="Only what is due before this day.")
    is_own = serializers.BooleanField(required=False, help_text="Only what this token opened, or the rest.")
    q = Words(required=False, help_text="The title contains this, in any case.")


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


class NewInspectOrderSerializer(NewOrderSerializer):
    """An order to look doors over, each by its checklist."""

    kind = serializers.ChoiceField(choices=[("inspect", "Inspect doors")])
    doors = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MAX_LINES, help_text="One line for each."
    )


class NewDecodeOrderSerializer(NewOrderSerializer):
    """An order to find out what is in cores whose pins nobody knows."""

    kind = serializers.ChoiceField(choices=[("decode", "Decode cores")])
    cores = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MAX_LINES, help_text="One line for each."
    )


class NewLockOutSerializer(NewOrderSerializer):
    """An order to keep doors shut until a day. A way out waits for a security officer's word."""

    kind = serializers.ChoiceField(choices=[("lock_out", "Keep doors shut")])
    housings = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MAX_LINES, help_text="One line for each."
    )
    asked_by = serializers.CharField(max_length=120, help_text="Who is told when the doors open again.")
    until = serializers.DateField()


NEW_ORDERS: dict[str, type[NewOrderSerializer]] = {
    "swap": NewSwapOrderSerializer,
    "pin": NewPinOrderSerializer,
    "inspect": NewInspectOrderSerializer,
    "decode": NewDecodeOrderSerializer,
    "lock_out": NewLockOutSerializer,
}


class KindSerializer(serializers.Serializer[Any]):
    """Read before the rest: it says which facts the order needs. Keys are cut by people, not by programs."""

    kind = serializers.ChoiceField(choices=sorted(NEW_ORDERS))
