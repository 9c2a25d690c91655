"""Who may be named: people stand in an answer only for tokens with the scope for holders."""

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers

from keyctl.api.auth import MissingScope
from keyctl.api.models import Scope, Token
from keyctl.keys.models import Holder

WITHHELD = "Null without the scope holders:read."


class NamesPeople(serializers.Serializer[Any]):
    """An answer in which some facts name people, or are words about them in which names may stand."""

    people: ClassVar[tuple[str, ...]] = ()

    def to_representation(self, instance: Any) -> Any:
        answer = super().to_representation(instance)
        if not may_name(self.context):
            answer |= {name: None for name in self.people if name in answer}
        return answer


def may_name(context: Mapping[str, Any]) -> bool:
    request = context.get("request")
    token = getattr(request, "auth", None)
    return isinstance(token, Token) and token.carries(Scope.HOLDERS_READ)


def require_to_name(context: Mapping[str, Any]) -> None:
    """For a filter that would tell of a person."""
    if not may_name(context):
        raise MissingScope(Scope.HOLDERS_READ)


class HolderReferenceSerializer(serializers.Serializer[Holder]):
    id = serializers.UUIDField()
    name = serializers.CharField()
