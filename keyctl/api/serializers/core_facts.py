"""What a program may say of cores. How one is pinned is said by nobody: it is worked out and sealed."""

from rest_framework import serializers

from keyctl.api.serializers.fields import StrictSerializer, Words
from keyctl.cores.models import Core

MOST_SYMBOLS = 12
# Into a door a core goes by a swap order, and a program carries none about.
PLACES = [choice for choice in Core.Place.choices if choice[0] in {"shelf", "bench", "gone"}]


class NewCoreSerializer(StrictSerializer):
    """A core as it comes out of the box: it lies on the bench and is not pinned yet."""

    site = serializers.UUIDField(help_text="The site's id.")
    system = Words(max_length=20, help_text="The key system's code.")
    keyed_to = serializers.ListField(
        child=Words(max_length=20),
        min_length=1,
        max_length=MOST_SYMBOLS,
        help_text="The symbols of the keys that shall turn it; several for a cross-keyed core.",
    )


class CoreChangeSerializer(StrictSerializer):
    place = serializers.ChoiceField(
        choices=PLACES, required=False, help_text="Where it lies now, while it is in no housing."
    )
    system = Words(max_length=20, required=False, help_text="With keyed_to only: another system's code.")
    keyed_to = serializers.ListField(
        child=Words(max_length=20),
        min_length=1,
        max_length=MOST_SYMBOLS,
        required=False,
        help_text="Only while it holds no pins and no work counts on it.",
    )
