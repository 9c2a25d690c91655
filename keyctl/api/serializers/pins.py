"""How a core is pinned: in one answer alone, to a token for nothing else, by the rules of the vault."""

from typing import Any

from rest_framework import serializers

from keyctl.api.serializers.fields import CoreReferenceSerializer, StrictSerializer, Words
from keyctl.reveals.models import Permission


class ReadPinsSerializer(StrictSerializer):
    """One ground of the two: work that people gave, or the permission of a second person."""

    order = serializers.UUIDField(required=False, help_text="An order of people at work that names it (id).")
    permission = serializers.UUIDField(
        required=False, help_text="A permission that this token asked for, for this core (id)."
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if len(facts) != 1:
            raise serializers.ValidationError({"order": ["Name an order or a permission, one of the two."]})
        return facts


class StackSerializer(serializers.Serializer[Any]):
    """The pins of one position, from the key upwards, by their numbers in the kit."""

    position = serializers.IntegerField()
    bottom = serializers.IntegerField()
    masters = serializers.ListField(child=serializers.IntegerField())
    control = serializers.IntegerField(allow_null=True)
    top = serializers.IntegerField()


class CorePinsSerializer(serializers.Serializer[Any]):
    core = CoreReferenceSerializer()
    format = serializers.CharField(help_text="The core format's id.")
    stacks = StackSerializer(many=True)


class AskToReadSerializer(StrictSerializer):
    reason = Words(max_length=300, help_text="What for: the security officer decides by it.")


class PermissionSerializer(serializers.Serializer[Permission]):
    """What a security officer decides on the page of looks."""

    id = serializers.UUIDField()
    core = serializers.UUIDField(source="subject_id")
    state = serializers.ChoiceField(choices=Permission.State.choices)
    until = serializers.DateTimeField(source="ends_at", allow_null=True, help_text="Once it is granted.")
