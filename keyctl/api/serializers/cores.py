from typing import Any

from rest_framework import serializers

from keyctl.api.serializers.fields import (
    DoorReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
    Words,
)
from keyctl.cores.models import Core
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Housing


class WhereSerializer(serializers.Serializer[Housing]):
    housing = serializers.UUIDField(source="id")
    door = DoorReferenceSerializer()
    words = serializers.CharField(source="__str__", help_text="Door and housing in words.")


class CoreSerializer(serializers.Serializer[Core]):
    """A core by its tag. How it is pinned is in no answer."""

    id = serializers.UUIDField()
    tag = serializers.CharField(help_text="What the core carries; it means nothing by itself.")
    site = SiteReferenceSerializer()
    system = serializers.CharField(source="system.code", allow_null=True, help_text="The key system's code.")
    format = serializers.CharField(source="format_id", help_text="The core format's id.")
    construction = serializers.CharField()
    keyed_to = serializers.StringRelatedField[Any](
        many=True, help_text="The symbols of the keys that are meant to turn it; masters above follow."
    )
    pinned_at = serializers.DateTimeField(allow_null=True, help_text="Null while no pins are on record.")
    place = serializers.ChoiceField(choices=Core.Place.choices)
    where = WhereSerializer(source="housing", allow_null=True, help_text="Null while it is in no housing.")
    is_disputed = serializers.BooleanField(
        help_text="Whether what was told of it contradicts this, and nobody has settled it yet."
    )


class CoreFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    system = Words(required=False, help_text="Only cores of this key system (code).")
    keyed_to = Words(required=False, help_text="Only cores keyed to this symbol; name the system too.")
    place = serializers.ChoiceField(choices=Core.Place.choices, required=False)
    building = serializers.UUIDField(required=False, help_text="Only cores in doors of this building (id).")
    door = serializers.UUIDField(required=False, help_text="Only cores in this door (id).")
    housing = serializers.UUIDField(required=False, help_text="The core in this housing (id).")
    tag = Words(required=False, help_text="The core with this tag, however it is grouped.")
    format = Words(required=False, help_text="Only cores of this format (id).")
    is_pinned = serializers.BooleanField(required=False, help_text="Whether pins are on record.")
    is_disputed = serializers.BooleanField(required=False)

    def validate_tag(self, text: str) -> str:
        return clean_tag(text)
