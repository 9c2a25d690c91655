from typing import Any, Final

from rest_framework import serializers

from keyctl.api.paging import DEFAULT_LIMIT, MAX_LIMIT
from keyctl.api.serializers.fields import StrictSerializer

# In the order in which equals stand.
FOUND_KINDS: Final = (
    "door",
    "space",
    "building",
    "core",
    "key",
    "key-copy",
    "key-system",
    "cabinet",
    "holder",
    "work-order",
    "request",
)


class FoundThingSerializer(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(choices=FOUND_KINDS)
    id = serializers.UUIDField()
    is_whole = serializers.BooleanField(help_text="Its number, tag, symbol or name is what was asked for.")
    url = serializers.URLField(help_text="Where it is read.")


class FoundSerializer(serializers.Serializer[Any]):
    results = FoundThingSerializer(many=True, help_text="Best first.")
    is_current = serializers.BooleanField(
        help_text="False: much changed at once and is still being read; ask again in a minute."
    )


class SearchFilters(StrictSerializer):
    q = serializers.CharField(
        max_length=200,
        allow_blank=True,
        default="",
        help_text="Words in any order. Case, accents, blanks and hyphens do not matter; an identifier of "
        "another program is found by the whole of it, letter by letter.",
    )
    kinds = serializers.CharField(
        required=False,
        help_text=f"Only these, parted by commas: {', '.join(FOUND_KINDS)}. Else all that the token reads; "
        "requests, which are found by names, with `holders:read` besides.",
    )
    limit = serializers.IntegerField(
        min_value=1,
        max_value=MAX_LIMIT,
        default=DEFAULT_LIMIT,
        help_text=f"How many. More than {MAX_LIMIT} is refused, not cut.",
    )

    def validate_kinds(self, text: str) -> list[str]:
        asked = text.split(",")
        if unknown := sorted(set(asked) - set(FOUND_KINDS)):
            raise serializers.ValidationError(f"There is no kind {unknown[0]}: {', '.join(FOUND_KINDS)}.")
        return asked
