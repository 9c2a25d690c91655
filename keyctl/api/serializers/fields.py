"""What all serializers share: how facts come in (strictly), and the short references to places."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from keyctl.cores.models import Core
from keyctl.lib.texts import is_text
from keyctl.places.models import Building, Door, Floor, Site, Space


class StrictSerializer(serializers.Serializer[Any]):
    """Facts that come in. A name nobody knows is an error: a mistyped filter must not widen an answer."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping) and (unknown := [name for name in data if name not in self.fields]):
            raise serializers.ValidationError({name: ["There is no fact of this name."] for name in unknown})
        return super().to_internal_value(data)


class Words(serializers.CharField):
    """A text that comes in: no sign in it steers a database, a terminal or a reader's eye."""

    def run_validation(self, data: Any = serializers.empty) -> Any:
        if isinstance(data, str) and not is_text(data):
            raise serializers.ValidationError("Signs that are no text stand here; take them out.")
        return super().run_validation(data)


class SiteReferenceSerializer(serializers.Serializer[Site]):
    id = serializers.UUIDField()
    code = serializers.CharField()


class BuildingReferenceSerializer(serializers.Serializer[Building]):
    id = serializers.UUIDField()
    code = serializers.CharField()


class FloorReferenceSerializer(serializers.Serializer[Floor]):
    id = serializers.UUIDField()
    label = serializers.CharField()  # type: ignore[assignment]  # a declared field, not Field.label
    level = serializers.IntegerField(help_text="0 is the ground floor.")


class SpaceReferenceSerializer(serializers.Serializer[Space]):
    id = serializers.UUIDField()
    number = serializers.CharField()


class DoorReferenceSerializer(serializers.Serializer[Door]):
    id = serializers.UUIDField()
    number = serializers.CharField()
    building = BuildingReferenceSerializer()


class CoreReferenceSerializer(serializers.Serializer[Core]):
    id = serializers.UUIDField()
    tag = serializers.CharField()
