from typing import Any

from rest_framework import serializers

from keyctl.api.paging import DEFAULT_LIMIT, MAX_LIMIT
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.feed.kinds import KINDS


class ChangeSerializer(serializers.Serializer[Any]):
    sequence = serializers.IntegerField(help_text="Rows come in this order, which is that of commits.")
    kind = serializers.ChoiceField(choices=sorted(KINDS))
    id = serializers.UUIDField()
    site = serializers.UUIDField(help_text="The site's id; of a thing of several sites one of them.")
    deleted = serializers.BooleanField(
        help_text="True: gone, or gone from this token's sites. False: new or changed."
    )
    url = serializers.URLField(allow_null=True, help_text="Where it is read; null where it is deleted.")


class ChangesSerializer(serializers.Serializer[Any]):
    results = ChangeSerializer(many=True)
    next = serializers.URLField(
        allow_null=True,
        help_text="The next page, to be asked at once, even where this one is empty; null at the end.",
    )
    since = serializers.CharField(help_text="Keep it: asked with it later, the feed goes on from here.")


class ChangeFilters(StrictSerializer):
    since = serializers.CharField(
        required=False, help_text="Where to go on. Left out: everything that is there, then what changes."
    )
    kinds = serializers.CharField(
        required=False,
        help_text=f"Only these, parted by commas: {', '.join(sorted(KINDS))}. Else all that the token reads.",
    )
    limit = serializers.IntegerField(
        min_value=1,
        max_value=MAX_LIMIT,
        default=DEFAULT_LIMIT,
        help_text=f"Rows on a page. More than {MAX_LIMIT} is refused, not cut.",
    )

    def validate_kinds(self, text: str) -> list[str]:
        asked = text.split(",")
        if unknown := sorted(set(asked) - KINDS.keys()):
            raise serializers.ValidationError(f"There is no kind {unknown[0]}: {', '.join(sorted(KINDS))}.")
        return asked
