"""Places as they are read, and what a list of them is narrowed by."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from keyctl.api.serializers.fields import (
    BuildingReferenceSerializer,
    CoreReferenceSerializer,
    DoorReferenceSerializer,
    FloorReferenceSerializer,
    SiteReferenceSerializer,
    SpaceReferenceSerializer,
    StrictSerializer,
    Words,
)
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Site, Space

# What the database takes as a level.
LOWEST, HIGHEST = -32768, 32767
SITE_HELP, GLOBAL_ID_HELP = "Only this site (id).", "The one with this GlobalId (ISO 16739)."


class IdentifierSerializer(serializers.Serializer[Identifier]):
    """What another program calls the place."""

    source = serializers.CharField(  # type: ignore[assignment]  # a declared field, not Field.source
        help_text="GlobalId (ISO 16739), or the name of the program."
    )
    value = serializers.CharField()


class SiteSerializer(serializers.Serializer[Site]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()


class BuildingSerializer(serializers.Serializer[Building]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    code = serializers.CharField()
    name = serializers.CharField()
    identifiers = IdentifierSerializer(many=True)


class FloorSerializer(serializers.Serializer[Floor]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer(source="building.site")
    building = BuildingReferenceSerializer()
    label = serializers.CharField(help_text="What people call it.")  # type: ignore[assignment]  # declared field
    level = serializers.IntegerField(help_text="0 is the ground floor.")
    identifiers = IdentifierSerializer(many=True)


class SpaceSerializer(serializers.Serializer[Space]):
    """A room or a part of one."""

    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    building = BuildingReferenceSerializer(source="floor.building")
    floor = FloorReferenceSerializer()
    number = serializers.CharField(help_text="As it stands on the plan.")
    name = serializers.CharField(help_text="May be empty.")
    identifiers = IdentifierSerializer(many=True)


class DoorSerializer(serializers.Serializer[Door]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    building = BuildingReferenceSerializer()
    floor = FloorReferenceSerializer()
    spaces = SpaceReferenceSerializer(many=True, help_text="The rooms that it joins, at most a few.")
    number = serializers.CharField(help_text="What stands on the door.")
    name = serializers.CharField(help_text="What people call the room; may be empty.")
    door_class = serializers.ChoiceField(choices=Door.DoorClass.choices)
    is_egress = serializers.BooleanField(help_text="Whether people leave through it in an emergency.")
    is_fire_rated = serializers.BooleanField()
    fire_rating = serializers.CharField(
        help_text="What a schedule states; only is_fire_rated says that it is one."
    )
    hardware_set = serializers.CharField()
    serial_number = serializers.CharField()
    asset_tag = serializers.CharField()
    bar_code = serializers.CharField()
    tag = serializers.CharField(help_text="What the label at the door carries; it means nothing by itself.")
    identifiers = IdentifierSerializer(many=True)


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
    code = Words(required=False, help_text="The site with this code.")
    q = Words(required=False, help_text="Code or name contains this, in any case.")


class BuildingFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text=SITE_HELP)
    code = Words(required=False, help_text="Exactly this code.")
    q = Words(required=False, help_text="Code or name contains this, in any case.")
    global_id = Words(required=False, help_text=GLOBAL_ID_HELP)


class FloorFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text=SITE_HELP)
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    level = serializers.IntegerField(required=False, min_value=LOWEST, max_value=HIGHEST)
    global_id = Words(required=False, help_text=GLOBAL_ID_HELP)


class SpaceFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text=SITE_HELP)
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    floor = serializers.UUIDField(required=False, help_text="Only this floor (id).")
    door = serializers.UUIDField(required=False, help_text="Only spaces that this door joins (id).")
    number = Words(required=False, help_text="Exactly this number.")
    q = Words(required=False, help_text="Number or name contains this, in any case.")
    global_id = Words(required=False, help_text=GLOBAL_ID_HELP)


class DoorFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text=SITE_HELP)
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    floor = serializers.UUIDField(required=False, help_text="Only this floor (id).")
    space = serializers.UUIDField(required=False, help_text="Only doors of this space (id).")
    number = Words(required=False, help_text="Exactly this number.")
    q = Words(required=False, help_text="Number or name contains this, in any case.")
    door_class = serializers.ChoiceField(choices=Door.DoorClass.choices, required=False)
    is_egress = serializers.BooleanField(required=False)
    is_fire_rated = serializers.BooleanField(required=False)
    hardware_set = Words(required=False, help_text="Exactly this hardware set.")
    system = Words(required=False, help_text="Only doors with a core of this key system (code).")
    tag = Words(required=False, help_text="The door whose label carries this, however it is grouped.")
    global_id = Words(required=False, help_text=GLOBAL_ID_HELP)

    def validate_tag(self, text: str) -> str:
        return clean_tag(text)


class HousingFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text=SITE_HELP)
    building = serializers.UUIDField(required=False, help_text="Only this building (id).")
    door = serializers.UUIDField(required=False, help_text="Only this door (id).")
    kind = serializers.ChoiceField(choices=Housing.Kind.choices, required=False)
    construction = Words(required=False, help_text="Only those that take cores of this construction.")
    is_empty = serializers.BooleanField(required=False, help_text="Whether no core is in it.")
