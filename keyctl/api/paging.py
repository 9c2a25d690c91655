"""Pages by cursor: each begins where the last one ended, however many rows came or went meanwhile."""

import base64
import binascii
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from keyctl.api.problems import BadQuery
from keyctl.api.walking import page_of

if TYPE_CHECKING:  # the framework's views import this module while they load
    from rest_framework.views import APIView

DEFAULT_LIMIT = 50
MAX_LIMIT = 200

Schema = dict[str, Any]


class Pages(BasePagination):
    """``limit`` and ``cursor`` in the query; ``results`` and ``next`` in the body, ``Link`` in the head.

    Rows come in the order of the view's ``order_key``, which is unique: the id unless it says otherwise.
    """

    parameters = ("limit", "cursor")
    next_url: str | None = None

    def paginate_queryset(
        self, queryset: QuerySet[Any] | Sequence[Any], request: Request, view: "APIView | None" = None
    ) -> list[Any]:
        if not isinstance(queryset, QuerySet):
            raise TypeError("Only rows of the database are cut into pages.")
        key = getattr(view, "order_key", "id")
        limit = _limit(request.query_params.get("limit"))
        cursor = request.query_params.get("cursor")
        after = {} if cursor is None else {f"{key}__gt": _value_after(queryset.model, key, cursor)}
        if getattr(view, "is_walked", False):
            rows = list(page_of(queryset, key, after, limit + 1))
        else:
            rows = list(queryset.filter(**after).order_by(key)[: limit + 1])
        if len(rows) > limit:
            self.next_url = _next_url(request, getattr(rows[limit - 1], key))
        return rows[:limit]

    def get_paginated_response(self, data: Sequence[Any]) -> Response:
        headers = {"Link": f'<{self.next_url}>; rel="next"'} if self.next_url else None
        return Response({"results": data, "next": self.next_url}, headers=headers)

    def get_paginated_response_schema(self, schema: Schema) -> Schema:
        return {
            "type": "object",
            "required": ["results", "next"],
            "properties": {
                "results": schema,
                "next": {
                    "type": ["string", "null"],
                    "format": "uri",
                    "description": "The next page; null on the last.",
                },
            },
        }

    def get_schema_operation_parameters(self, view: "APIView") -> list[Schema]:  # noqa: ARG002
        return [
            {
                "name": "limit",
                "in": "query",
                "description": f"Rows on a page. More than {MAX_LIMIT} is refused, not cut.",
                "schema": {"type": "integer", "minimum": 1, "maximum": MAX_LIMIT, "default": DEFAULT_LIMIT},
            },
            {
                "name": "cursor",
                "in": "query",
                "description": "Where the page begins. Take it from `next`; its form may change.",
                "schema": {"type": "string"},
            },
        ]


def _limit(text: str | None) -> int:
    if text is None:
        return DEFAULT_LIMIT
    if text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= MAX_LIMIT:
        return int(text)
    raise BadQuery({"limit": [f"Write a whole number from 1 to {MAX_LIMIT}."]})


def _next_url(request: Request, last: Any) -> str:
    cursor = base64.urlsafe_b64encode(str(last).encode()).decode().rstrip("=")
    return replace_query_param(request.build_absolute_uri(), "cursor", cursor)


def _value_after(model: type[Model], key: str, cursor: str) -> Any:
    try:
        text = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True).decode()
        return model._meta.get_field(key).to_python(text)  # type: ignore[union-attr]
    except (binascii.Error, ValueError, ValidationError):
        raise BadQuery({"cursor": ["This is not a cursor of this list: take it from next."]}) from None
