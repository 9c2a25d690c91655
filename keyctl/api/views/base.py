"""What every view of the API shares: the token's scope, the actor, pages and filters."""

from collections.abc import Callable
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer
from rest_framework.viewsets import GenericViewSet

from keyctl.accounts.models import User
from keyctl.api.models import Scope
from keyctl.api.paging import Pages
from keyctl.api.parsers import JsonBody
from keyctl.api.problems import BadQuery
from keyctl.api.schema import answers
from keyctl.api.selectors import Filters
from keyctl.api.serializers.fields import StrictSerializer

View = TypeVar("View", bound=type[Any])


class Resource(GenericViewSet[Any]):
    """Reading one kind of thing: pages of them, and one by its id.

    ``queryset`` is empty in every resource: it names the model for the description. The rows come from
    ``rows``, which asks the selectors what this token may see.
    """

    parser_classes = [JsonBody]
    http_method_names = ["get", "head", "post"]
    scopes = {"GET": Scope.ESTATE_READ}
    filters_class: type[StrictSerializer]
    # What pages are ordered by; unique, so that no row is read twice or left out.
    order_key = "id"

    def rows(self, filters: Filters) -> QuerySet[Any]:
        raise NotImplementedError

    @property
    def actor(self) -> User:
        user = self.request.user
        if not isinstance(user, User):
            raise NotAuthenticated
        return user

    def list(self, request: Request) -> Response:
        page = self.paginate_queryset(self.rows(read_filters(request, self.filters_class)))
        return self.get_paginated_response(self.get_serializer(page, many=True).data)

    def retrieve(self, _request: Request, pk: UUID) -> Response:
        return Response(self.get_serializer(get_object_or_404(self.rows({}), pk=pk)).data)


def read_filters(request: Request, filters_class: type[StrictSerializer]) -> Filters:
    asked = {name: value for name, value in request.query_params.items() if name not in Pages.parameters}
    filters = filters_class(data=asked)
    if not filters.is_valid():
        raise BadQuery(filters.errors)
    return dict(filters.validated_data)


def described(
    many: str, one: str, serializer: type[Serializer[Any]], filters: type[StrictSerializer]
) -> Callable[[View], View]:
    """The words for a resource in the published description."""
    listing = extend_schema(
        summary=many, parameters=[filters], responses=answers({200: serializer(many=True)}, 400)
    )
    detail = extend_schema(summary=one, responses=answers({200: serializer}, 404))
    return extend_schema_view(list=listing, retrieve=detail)
