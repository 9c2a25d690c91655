from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from keyctl.api.serializers.fields import (
    CoreReferenceSerializer,
    DoorReferenceSerializer,
    SiteReferenceSerializer,
    StrictSerializer,
)
from keyctl.cores.models import Core
from keyctl.cores.selectors import Opener
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
    place = serializers.ChoiceField(choices=Core.Place.choices)
    where = WhereSerializer(source="housing", allow_null=True, help_text="Null while it is in no housing.")
    is_disputed = serializers.BooleanField(
        help_text="Whether what was told of it contradicts this, and nobody has settled it yet."
    )


class CoreFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    system = serializers.CharField(required=False, help_text="Only cores of this key system (code).")
    place = serializers.ChoiceField(choices=Core.Place.choices, required=False)
    door = serializers.UUIDField(required=False, help_text="Only cores in this door (id).")
    tag = serializers.CharField(required=False, help_text="The core with this tag, however it is grouped.")

    def validate_tag(self, text: str) -> str:
        return clean_tag(text)


EFFECTS = (
    ("turns", "Turns the core"),
    ("withdraws", "Takes the core out"),
    ("turns-and-withdraws", "Turns the core and takes it out"),
)


class OpenerSerializer(serializers.Serializer[Opener]):
    """One key that does something to a core in the door, worked out from the pins; never who holds it."""

    symbol = serializers.CharField(source="symbol.symbol")
    system = serializers.CharField(source="symbol.system.code", help_text="The key system's code.")
    effect = serializers.SerializerMethodField()
    planned = serializers.BooleanField(
        source="is_planned", help_text="False: the pins let it, the plan does not."
    )
    route = serializers.CharField(help_text="Why, in words.")
    copies_held = serializers.IntegerField(help_text="Copies that are out with holders.")
    core = CoreReferenceSerializer()
    housing = serializers.UUIDField(source="housing.id")

    @extend_schema_field(serializers.ChoiceField(choices=EFFECTS))
    def get_effect(self, opener: Opener) -> str:
        if opener.operates and opener.withdraws:
            return "turns-and-withdraws"
        return "turns" if opener.operates else "withdraws"


class OpenersSerializer(serializers.Serializer[Any]):
    """Every opener at once: what opens a door must not be read by halves."""

    results = OpenerSerializer(many=True)
