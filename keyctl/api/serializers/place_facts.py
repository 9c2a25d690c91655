"""What a program may say of places: when it writes one down, and when it changes one."""

from typing import Any

from rest_framework import serializers

from keyctl import engine
from keyctl.api.serializers.fields import StrictSerializer, Words
from keyctl.api.serializers.places import HIGHEST, LOWEST
from keyctl.places.models import Door, Housing

MOST_SPACES = 8
WITH_CARE = (
    "Local codes and those licensed by them decide it; history keeps who said so, and what was said before."
)


class PartSerializer(StrictSerializer):
    """Before the facts of a new thing: what is left out stays as it is, what is ``fixed`` does not change."""

    fixed: tuple[str, ...] = ()

    def get_fields(self) -> dict[str, Any]:
        fields = {name: field for name, field in super().get_fields().items() if name not in self.fixed}
        for field in fields.values():
            field.required = False
        return fields


class NewBuildingSerializer(StrictSerializer):
    site = serializers.UUIDField(help_text="The site's id.")
    code = Words(max_length=12, help_text="Short: it stands before every door's number.")
    name = Words(max_length=120)


class BuildingChangeSerializer(PartSerializer, NewBuildingSerializer):
    fixed = ("site",)


class NewFloorSerializer(StrictSerializer):
    building = serializers.UUIDField(help_text="The building's id.")
    label = Words(max_length=40)  # type: ignore[assignment]  # a declared field, not Field.label
    level = serializers.IntegerField(min_value=LOWEST, max_value=HIGHEST, help_text="0 is the ground floor.")


class FloorChangeSerializer(PartSerializer, NewFloorSerializer):
    fixed = ("building",)


class NewSpaceSerializer(StrictSerializer):
    floor = serializers.UUIDField(help_text="The floor's id.")
    number = Words(max_length=40)
    name = Words(max_length=120, required=False, allow_blank=True)


class SpaceChangeSerializer(PartSerializer, NewSpaceSerializer):
    """The floor may be another one of the same site."""


class NewDoorSerializer(StrictSerializer):
    floor = serializers.UUIDField(help_text="The floor's id.")
    spaces = serializers.ListField(
        child=serializers.UUIDField(),
        max_length=MOST_SPACES,
        required=False,
        help_text="The ids of the rooms that it joins.",
    )
    number = Words(max_length=30, help_text="As it stands on the door.")
    name = Words(max_length=120, required=False, allow_blank=True)
    door_class = serializers.ChoiceField(choices=Door.DoorClass.choices, required=False)
    is_egress = serializers.BooleanField(
        required=False, help_text=f"Whether people leave through it in an emergency. {WITH_CARE}"
    )
    is_fire_rated = serializers.BooleanField(required=False, help_text=WITH_CARE)
    fire_rating = Words(max_length=60, required=False, allow_blank=True)
    hardware_set = Words(max_length=60, required=False, allow_blank=True)
    serial_number = Words(max_length=60, required=False, allow_blank=True)
    asset_tag = Words(max_length=60, required=False, allow_blank=True)
    bar_code = Words(max_length=60, required=False, allow_blank=True)


class DoorChangeSerializer(PartSerializer, NewDoorSerializer):
    """The floor may be another one of the same site; spaces replace those that the door had."""


class NewHousingSerializer(StrictSerializer):
    door = serializers.UUIDField(help_text="The door's id.")
    kind = serializers.ChoiceField(choices=Housing.Kind.choices)
    construction = Words(max_length=30, help_text="Which cores fit, such as small-format.")
    label = Words(  # type: ignore[assignment]  # a declared field, not Field.label
        max_length=60, required=False, allow_blank=True, help_text="Tells two alike on a door apart."
    )

    def validate_construction(self, text: str) -> str:
        known = engine.constructions()
        if text not in known:
            raise serializers.ValidationError(f"No core is of this construction: write {' or '.join(known)}.")
        return text


class HousingChangeSerializer(PartSerializer, NewHousingSerializer):
    fixed = ("door",)
