from rest_framework import serializers

from keyctl.accounts.models import User
from keyctl.api.serializers.fields import (
    BuildingReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
    Words,
)
from keyctl.api.serializers.keys import CopyReferenceSerializer, KeyReferenceSerializer
from keyctl.api.serializers.people import WITHHELD, HolderReferenceSerializer, NamesPeople
from keyctl.approvals.models import Grant, KeyRequest, Step
from keyctl.approvals.services import MOST_DOORS
from keyctl.places.models import Door


class AskerSerializer(serializers.Serializer[User]):
    id = serializers.UUIDField()
    name = serializers.CharField(source="display_name")


class AskedDoorSerializer(serializers.Serializer[Door]):
    id = serializers.UUIDField()
    number = serializers.CharField()


class StepSerializer(NamesPeople):
    """One decision that the request needs. Programs read it and never make it."""

    people = ("note",)

    ordinal = serializers.IntegerField()
    label = serializers.CharField(  # type: ignore[assignment]  # a declared field, not Field.label
        help_text="Who decides it, by their office."
    )
    why = serializers.CharField(help_text="Why the keys or their doors need it.")
    state = serializers.ChoiceField(choices=Step.State.choices)
    since = serializers.DateTimeField(allow_null=True, help_text="Since when it is its turn.")
    due_at = serializers.DateTimeField(allow_null=True, help_text="When silence is carried on to others.")
    decided_at = serializers.DateTimeField(allow_null=True)
    note = serializers.CharField(allow_null=True, help_text=f"What was said with it. {WITHHELD}")


class GrantSerializer(serializers.Serializer[Grant]):
    """A key that was approved."""

    key = KeyReferenceSerializer(source="symbol")
    is_master = serializers.BooleanField()
    reserved_copy = CopyReferenceSerializer(allow_null=True, help_text="Set aside until it is collected.")
    copy = CopyReferenceSerializer(allow_null=True, help_text="What was handed out.")


class KeyRequestSerializer(NamesPeople):
    """A request for keys to doors, and how far it has come."""

    people = ("holder", "requester", "reason", "decision_note")

    id = serializers.UUIDField()
    site = SiteReferenceSerializer(source="building.site")
    building = BuildingReferenceSerializer()
    doors = AskedDoorSerializer(many=True)
    holder = HolderReferenceSerializer(allow_null=True, help_text=f"Whom the keys are for. {WITHHELD}")
    requester = AskerSerializer(allow_null=True, help_text=f"Who asked. {WITHHELD}")
    reason = serializers.CharField(allow_null=True, help_text=WITHHELD)
    starts_on = serializers.DateField(allow_null=True)
    needed_until = serializers.DateField(allow_null=True)
    asked_at = serializers.DateTimeField()
    state = serializers.ChoiceField(choices=KeyRequest.State.choices)
    decided_at = serializers.DateTimeField(allow_null=True)
    decision_note = serializers.CharField(allow_null=True, help_text=WITHHELD)
    ready_at = serializers.DateTimeField(allow_null=True)
    steps = StepSerializer(many=True)
    grants = GrantSerializer(many=True)


class KeyRequestFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    door = serializers.UUIDField(required=False, help_text="Only requests for this door (id).")
    state = serializers.ChoiceField(choices=KeyRequest.State.choices, required=False)
    holder = serializers.UUIDField(
        required=False, help_text="Only for this holder (id). It needs the scope holders:read."
    )
    key = serializers.UUIDField(required=False, help_text="Only requests that give this key (id).")
    asked_since = serializers.DateTimeField(required=False, help_text="Only what was asked since then.")
    is_own = serializers.BooleanField(required=False, help_text="Only what this token asked, or only others.")


class NewKeyRequestSerializer(StrictSerializer):
    """A question for keys to doors of one building; people decide it."""

    doors = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, max_length=MOST_DOORS, help_text="Doors (ids)."
    )
    holder = serializers.UUIDField(help_text="Whom the keys are for (id).")
    reason = Words(max_length=400, help_text="What for: whoever decides goes by it.")
    starts_on = serializers.DateField(required=False, allow_null=True)
    needed_until = serializers.DateField(required=False, allow_null=True)
