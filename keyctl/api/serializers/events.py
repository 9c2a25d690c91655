from rest_framework import serializers

from keyctl.api.serializers.fields import StrictSerializer, Words
from keyctl.audit.models import EventSubject, Link


class SubjectSerializer(serializers.Serializer[EventSubject]):
    kind = serializers.CharField(help_text="What it is, such as cores.core or keys.keycopy.")
    id = serializers.UUIDField(source="subject_id")


class EventSerializer(serializers.Serializer[Link]):
    """That something happened, when, and to which things; their own resources say the rest."""

    number = serializers.IntegerField(help_text="Its place in history, in which no number is left out.")
    at = serializers.DateTimeField(source="event.at")
    kind = serializers.CharField(source="event.verb", help_text="What was done, such as core.swapped.")
    site = serializers.UUIDField(source="event.site_id")
    subjects = SubjectSerializer(source="event.subjects.all", many=True)


class EventFilters(StrictSerializer):
    site = serializers.UUIDField(required=False, help_text="Only this site (id).")
    kind = Words(required=False, help_text="Exactly this kind.")
    subject = serializers.UUIDField(required=False, help_text="Only events that name this thing (id).")
    since = serializers.DateTimeField(required=False, help_text="Only what happened at this moment or later.")
    after = serializers.IntegerField(
        required=False, min_value=0, max_value=2**63 - 1, help_text="Only entries with a higher number."
    )
