from rest_framework import serializers

from keyctl.api.serializers.fields import SiteReferenceSerializer, StrictSerializer, Words
from keyctl.api.serializers.people import WITHHELD, NamesPeople
from keyctl.keys.models import PersonKind

IN_DIRECTORY = f"In the directory they were brought in from; empty where they were not. {WITHHELD}"


class HolderSerializer(NamesPeople):
    """Somebody keys of a site are handed to. Who writes and may not read gets no person's facts back."""

    people = ("name", "email", "department", "user_name", "external_id")

    id = serializers.UUIDField()
    site = SiteReferenceSerializer()
    name = serializers.CharField(allow_null=True, help_text=WITHHELD)
    email = serializers.CharField(allow_null=True, help_text=WITHHELD)
    department = serializers.CharField(allow_null=True, help_text=WITHHELD)
    kind = serializers.ChoiceField(choices=PersonKind.choices)
    is_active = serializers.BooleanField(help_text="Whether they receive keys.")
    user_name = serializers.CharField(
        source="person.user_name", default="", allow_null=True, help_text=IN_DIRECTORY
    )
    external_id = serializers.CharField(
        source="person.external_id", default="", allow_null=True, help_text=IN_DIRECTORY
    )
    copies_out = serializers.IntegerField(help_text="Copies that are out with them.")


class HolderFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    kind = serializers.ChoiceField(choices=PersonKind.choices, required=False)
    is_active = serializers.BooleanField(required=False)
    email = Words(required=False, help_text="Exactly this address, in any case.")
    department = Words(required=False, help_text="Exactly this department.")
    external_id = Words(required=False, help_text="As the directory names the person.")
    q = Words(required=False, help_text="The name contains this, in any case.")


class HolderChangeSerializer(StrictSerializer):
    name = Words(required=False, max_length=120)
    email = serializers.EmailField(required=False, allow_blank=True, max_length=254)
    department = Words(required=False, allow_blank=True, max_length=120)
    kind = serializers.ChoiceField(choices=PersonKind.choices, required=False)


class NewHolderSerializer(HolderChangeSerializer):
    """Somebody who will be handed keys, whether or not they sign in."""

    site = serializers.UUIDField(help_text="The site's id.")
    name = Words(max_length=120)


class NoteSerializer(StrictSerializer):
    note = Words(required=False, allow_blank=True, max_length=400, help_text="Kept in history.")
