"""Key systems, key symbols, cabinets and key copies. How a key is cut is in no answer."""

from rest_framework import serializers

from keyctl.api.serializers.fields import SiteReferenceSerializer, StrictSerializer, Words
from keyctl.api.serializers.people import WITHHELD, HolderReferenceSerializer, NamesPeople
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.tags import clean_tag
from keyctl.systems.models import KeySymbol, KeySystem


class SystemReferenceSerializer(serializers.Serializer[KeySystem]):
    id = serializers.UUIDField()
    code = serializers.CharField()


class KeyReferenceSerializer(serializers.Serializer[KeySymbol]):
    id = serializers.UUIDField()
    symbol = serializers.CharField()
    system = SystemReferenceSerializer()


class CabinetReferenceSerializer(serializers.Serializer[Cabinet]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class CopyReferenceSerializer(serializers.Serializer[KeyCopy]):
    id = serializers.UUIDField()
    serial = serializers.CharField()


class KeySystemSerializer(serializers.Serializer[KeySystem]):
    """A key system; which sites of this token use it."""

    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    format = serializers.CharField(source="format_id", help_text="The core format's id.")
    keyway = serializers.CharField()
    levels = serializers.IntegerField()
    sites = SiteReferenceSerializer(many=True)
    created_at = serializers.DateTimeField()


class KeySymbolReferenceSerializer(serializers.Serializer[KeySymbol]):
    id = serializers.UUIDField()
    symbol = serializers.CharField()


class KeySerializer(serializers.Serializer[KeySymbol]):
    """A key of a system, by its symbol."""

    id = serializers.UUIDField()
    system = SystemReferenceSerializer()
    symbol = serializers.CharField()
    kind = serializers.ChoiceField(choices=KeySymbol.Kind.choices)
    level = serializers.IntegerField(
        allow_null=True, help_text="0 is a top key, larger below; null for a control key."
    )
    parent = KeySymbolReferenceSerializer(allow_null=True, help_text="The master right above it.")
    origin = serializers.ChoiceField(choices=KeySymbol.Origin.choices)
    created_at = serializers.DateTimeField()
    retired_at = serializers.DateTimeField(
        allow_null=True, help_text="After a loss: since when it is cut no more. It may still turn cores."
    )


class CabinetSerializer(serializers.Serializer[Cabinet]):
    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    name = serializers.CharField()


class KeyCopySerializer(NamesPeople):
    """One cut key, by its serial: where it is, and with whom."""

    people = ("holder",)

    id = serializers.UUIDField()
    serial = serializers.CharField(help_text="It means nothing to a finder.")
    stamp = serializers.CharField(help_text="What is stamped on it, where that is not the serial.")
    key = KeyReferenceSerializer(source="symbol")
    site = SiteReferenceSerializer()
    state = serializers.ChoiceField(choices=KeyCopy.State.choices)
    condition = serializers.ChoiceField(choices=KeyCopy.Condition.choices)
    cabinet = CabinetReferenceSerializer(allow_null=True)
    holder = HolderReferenceSerializer(allow_null=True, help_text=f"Who has it. {WITHHELD}")
    out_since = serializers.DateTimeField(source="custody.out_at", allow_null=True, default=None)
    due_at = serializers.DateTimeField(source="custody.due_at", allow_null=True, default=None)
    cut_at = serializers.DateTimeField()


class KeySystemFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only systems used at this site (id).")
    code = Words(required=False, help_text="The system with this code.")
    format = Words(required=False, help_text="Only this core format (id).")


class KeyFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only keys of systems used at this site (id).")
    system = Words(required=False, help_text="Only keys of this system (code).")
    kind = serializers.ChoiceField(choices=KeySymbol.Kind.choices, required=False)
    level = serializers.IntegerField(required=False, min_value=0, max_value=20)
    parent = serializers.UUIDField(  # type: ignore[assignment]  # a declared field, not Field.parent
        required=False, help_text="Only keys right below this one (id)."
    )
    symbol = Words(required=False, help_text="Exactly this symbol.")
    is_retired = serializers.BooleanField(required=False, help_text="Only retired keys, or only others.")


class CabinetFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")


class KeyCopyFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    key = serializers.UUIDField(required=False, help_text="Only copies of this key (id).")
    system = Words(required=False, help_text="Only keys of this system (code).")
    state = serializers.ChoiceField(choices=KeyCopy.State.choices, required=False)
    condition = serializers.ChoiceField(choices=KeyCopy.Condition.choices, required=False)
    cabinet = serializers.UUIDField(required=False, help_text="Only what hangs in this cabinet (id).")
    holder = serializers.UUIDField(
        required=False, help_text="Only what this holder has (id). It needs the scope holders:read."
    )
    serial = Words(required=False, help_text="The copy with this serial, however grouped.")
    due_before = serializers.DateTimeField(
        required=False, help_text="Only what is out and due back before this moment."
    )

    def validate_serial(self, text: str) -> str:
        return clean_tag(text)


class NewKeyCopySerializer(StrictSerializer):
    """A key that was cut, as it comes into a cabinet."""

    key = serializers.UUIDField(help_text="The key's id; no master and no control key.")
    site = serializers.UUIDField(help_text="The site's id.")
    cabinet = serializers.UUIDField(help_text="Where it hangs (id).")
    stamp = Words(
        required=False,
        max_length=24,
        help_text="What is stamped on it, where the desk of the site allows another text than the serial.",
    )


class HandOutSerializer(StrictSerializer):
    holder = serializers.UUIDField(help_text="Who takes the key (id).")
    signed_as = Words(max_length=120, help_text="The name that the holder typed themselves, as a signature.")
    due_at = serializers.DateTimeField(
        required=False, allow_null=True, help_text="When it is due back; else as usual for their kind."
    )


class TakeBackSerializer(StrictSerializer):
    cabinet = serializers.UUIDField(help_text="Where it hangs from now on (id).")
    brought_by = Words(required=False, max_length=120, allow_blank=True, help_text="Who brought it.")
    condition = Words(required=False, max_length=200, allow_blank=True, help_text="What it was like.")
