"""What the description of the API says beyond what the views show: the token, and every problem."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers

from keyctl.api.auth import scope_of
from keyctl.api.problems import KINDS, MEDIA_TYPE


class ProblemErrorSerializer(serializers.Serializer[Any]):
    detail = serializers.CharField()
    pointer = serializers.CharField(required=False, help_text="A JSON pointer into the body, as a fragment.")
    parameter = serializers.CharField(required=False, help_text="The name of a query parameter.")


class ProblemSerializer(serializers.Serializer[Any]):
    """Problem details as RFC 9457 has them."""

    type = serializers.URLField(help_text="Names the kind of problem; the page there explains it.")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = ProblemErrorSerializer(many=True, required=False)  # type: ignore[assignment]  # declared field


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "keyctl.api.auth.TokenAuthentication"
    name = "token"

    def get_security_definition(self, _auto_schema: AutoSchema) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "bearerFormat": "kc_<prefix>_<secret>",
            "description": "A token that an administrator made. Each operation names the scope it needs.",
        }

    def get_security_requirement(self, auto_schema: AutoSchema) -> dict[str, list[str]]:
        scope = scope_of(auto_schema.view, auto_schema.method)
        return {self.name: [scope.value] if scope else []}


def answers(success: Mapping[int, Any], *refusals: int) -> dict[Any, Any]:
    """The responses of an operation: its success, the refusals every operation has, and its own."""
    statuses = sorted({401, 403, 406, *refusals})
    return {**success, **{(status, MEDIA_TYPE): _problem(status) for status in statuses}}


def _problem(status: int) -> Any:
    titles = [kind.title for kind in KINDS.values() if kind.status == status]
    return OpenApiResponse(ProblemSerializer, description="; ".join(titles))
