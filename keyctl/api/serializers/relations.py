"""Which key does what in which door, now and after an imagined change."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from keyctl.api.serializers.fields import CoreReferenceSerializer, DoorReferenceSerializer, StrictSerializer
from keyctl.api.serializers.keys import KeyReferenceSerializer
from keyctl.cores.openings import Change, Opening
from keyctl.keys.selectors.opening import Opened

EFFECTS = (
    ("turns", "Turns the core"),
    ("withdraws", "Takes the core out"),
    ("turns-and-withdraws", "Turns the core and takes it out"),
)


class OpeningSerializer(serializers.Serializer[Opening]):
    """What all rows say of one key on one core, worked out from the pins."""

    door = DoorReferenceSerializer(source="opener.housing.door")
    housing = serializers.UUIDField(source="opener.housing.id")
    core = CoreReferenceSerializer(source="opener.core")
    effect = serializers.SerializerMethodField()
    planned = serializers.BooleanField(
        source="opener.is_planned", help_text="False: the pins let it, the plan does not."
    )
    route = serializers.CharField(source="opener.route", help_text="Why, in words.")
    change = serializers.ChoiceField(
        choices=Change.choices, help_text="What the imagined act does to this key on this core."
    )

    @extend_schema_field(serializers.ChoiceField(choices=EFFECTS))
    def get_effect(self, opening: Opening) -> str:
        opener = opening.opener
        if opener.operates and opener.withdraws:
            return "turns-and-withdraws"
        return "turns" if opener.operates else "withdraws"


class OpenerSerializer(OpeningSerializer):
    """One key that does something to a core in the door; never who holds it."""

    key = serializers.UUIDField(source="opener.symbol.id")
    symbol = serializers.CharField(source="opener.symbol.symbol")
    system = serializers.CharField(source="opener.symbol.system.code", help_text="The key system's code.")
    copies_held = serializers.IntegerField(
        source="opener.copies_held", help_text="Copies that are out with holders."
    )


class OpenedDoorSerializer(serializers.Serializer[Opened]):
    """A door, the keys that open it for the holder, and those that would."""

    door = DoorReferenceSerializer()
    now = KeyReferenceSerializer(many=True, help_text="Keys of copies that are out with the holder.")
    then = KeyReferenceSerializer(many=True, help_text="Keys after the imagined change.")
    change = serializers.ChoiceField(choices=Change.choices)


class ExchangeFilters(StrictSerializer):
    """Imagine a core in a housing. Nothing is changed by asking."""

    housing = serializers.UUIDField(required=False, help_text="Where a core is imagined to be put (id).")
    core = serializers.UUIDField(required=False, help_text="The core that is imagined there (id).")

    def validate(self, facts: dict[str, object]) -> dict[str, object]:
        if len(facts) == 1:
            missing = "core" if "housing" in facts else "housing"
            raise serializers.ValidationError({missing: ["Name both: a housing, and the core put into it."]})
        return facts


class HandFilters(StrictSerializer):
    """Imagine one key more in the holder's hand, or one copy less. Nothing is changed by asking."""

    with_key = serializers.UUIDField(required=False, help_text="As if they had a copy of this key too (id).")
    without_copy = serializers.UUIDField(required=False, help_text="As if this copy were back (id).")
    change = serializers.ChoiceField(
        choices=Change.choices, required=False, help_text="Only doors for which the change does this."
    )
    site = serializers.UUIDField(required=False, help_text="Only doors of this site (id).")
