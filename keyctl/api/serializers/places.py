from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from keyctl.api.serializers.fields import (
    BuildingReferenceSerializer,
    CoreReferenceSerializer,
    DoorReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
)
from keyctl.places.models import Building, Door, Housing, Site


class SiteSerializer(serializers.Serializer[Site]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()


class BuildingSerializer(serializers.Serializer[Building]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    code = serializers.CharField()
    name = serializers.CharField()


class DoorSerializer(serializers.Serializer[Door]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    building = BuildingReferenceSerializer()
    floor = serializers.CharField(source="floor.label", help_text="The floor's label.")
    level = serializers.IntegerField(source="floor.level", help_text="0 is the ground floor.")
    number = serializers.CharField(help_text="What stands on the door.")
    name = serializers.CharField(help_text="What people call the room; may be empty.")
    door_class = serializers.ChoiceField(choices=Door.DoorClass.choices)
    is_egress = serializers.BooleanField()
    is_fire_rated = serializers.BooleanField()


class HousingSerializer(serializers.Serializer[Housing]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer(source="door.site")
    door = DoorReferenceSerializer()
    kind = serializers.ChoiceField(choices=Housing.Kind.choices)
    construction = serializers.CharField(help_text="Which cores fit.")
    label = serializers.CharField(  # type: ignore[assignment]  # a declared field, not Field.label
        help_text="Tells two housings of a door apart; may be empty."
    )
    core = serializers.SerializerMethodField(help_text="The core in it; null while it is empty.")

    @extend_schema_field(CoreReferenceSerializer(allow_null=True))
    def get_core(self, housing: Housing) -> dict[str, Any] | None:
        held = housing.cores.all()
        return CoreReferenceSerializer(held[0]).data if held else None


class SiteFilters(StrictSerializer):
    code = serializers.CharField(required=False, help_text="The site with this code.")


class BuildingFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")


class DoorFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    number = serializers.CharField(required=False, help_text="Exactly this number.")
    q = serializers.CharField(required=False, help_text="Number or name contains this, in any case.")


class HousingFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    door = serializers.UUIDField(required=False, help_text="Only this door (id).")
