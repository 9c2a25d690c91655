"""What every view of the API shares: the token's scope, the actor, its quota, pages, filters and fields."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import status
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer
from rest_framework.viewsets import GenericViewSet

from keyctl.accounts.models import User
from keyctl.api.etags import is_known, tag_of
from keyctl.api.models import Scope, Token, Usage
from keyctl.api.once import done_once, read_key
from keyctl.api.paging import Pages
from keyctl.api.parsers import JsonBody
from keyctl.api.problems import BadQuery
from keyctl.api.quota import Standing, refuse_beyond, spend
from keyctl.api.schema import answers
from keyctl.api.selectors import Filters
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.terms import Terms, under

View = TypeVar("View", bound=type[Any])

READS = {"GET", "HEAD"}
FIELDS = "fields"


class Resource(GenericViewSet[Any]):
    """Reading one kind of thing: pages of them, and one by its id.

    ``queryset`` is empty in every resource: it names the model for the description. The rows come from
    ``rows``, which asks the selectors what this token may see. Writes are mixed in from ``writing``.
    """

    parser_classes = [JsonBody]
    http_method_names = ["get", "head", "post", "patch", "delete"]
    scopes = {"GET": Scope.ESTATE_READ}
    filters_class: type[StrictSerializer]
    # What pages are ordered by; unique, so that no row is read twice or left out.
    order_key = "id"
    # Whether there may be very many rows, at sites that their table does not name (``walking``).
    is_walked = False
    standing: Standing | None = None

    def rows(self, filters: Filters) -> QuerySet[Any]:
        raise NotImplementedError

    @property
    def actor(self) -> User:
        user = self.request.user
        if not isinstance(user, User):
            raise NotAuthenticated
        return user

    @property
    def token(self) -> Token:
        if not isinstance(self.request.auth, Token):
            raise NotAuthenticated
        return self.request.auth

    def perform_authentication(self, request: Request) -> None:
        """Whoever proved who they are has spent a request, whatever they may do."""
        super().perform_authentication(request)
        if not isinstance(request.auth, Token):
            return
        kind = Usage.Kind.READS if request.method in READS else Usage.Kind.WRITES
        self.standing = spend(self.token, kind)
        refuse_beyond(self.standing)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Response:
        final = super().finalize_response(request, response, *args, **kwargs)
        for name, value in (self.standing.headers if self.standing else {}).items():
            final[name] = value
        return final

    @under(Terms(is_sparse=True))
    def list(self, request: Request) -> Response:
        fields = self.asked_fields(request)
        page = self.paginate_queryset(self.rows(read_filters(request, self.filters_class)))
        rows: Any = self.get_serializer(page, many=True)
        _keep_only(rows.child.fields, fields)
        return self.get_paginated_response(rows.data)

    @under(Terms(is_sparse=True, is_tagged=True))
    def retrieve(self, request: Request, pk: UUID) -> Response:
        fields = self.asked_fields(request)
        read_filters(request, StrictSerializer, others=(FIELDS,))
        return self.tagged(self.whole(get_object_or_404(self.rows({}), pk=pk)), fields)

    def whole(self, row: Any) -> dict[str, Any]:
        """The whole representation of a row, as this reader sees it: what its tag is made from."""
        return dict(self.get_serializer(row).data)

    def tagged(self, whole: dict[str, Any], fields: Sequence[str] = ()) -> Response:
        """The answer to a GET with its tag; 304 without a body to who has it already."""
        tag = tag_of(whole, fields)
        if is_known(self.request.headers.get("If-None-Match", ""), tag):
            return Response(status=status.HTTP_304_NOT_MODIFIED, headers={"ETag": tag})
        return Response({name: whole[name] for name in fields or whole}, headers={"ETag": tag})

    def asked_fields(self, request: Request) -> Sequence[str]:
        """In the order of the representation, however they were asked for; none where all are wanted."""
        asked = [name for text in request.query_params.getlist(FIELDS) for name in text.split(",")]
        known = fields_of(self.get_serializer_class())
        if not set(asked) <= set(known):
            raise BadQuery({FIELDS: [f"Write names out of these: {', '.join(known)}."]})
        return [name for name in known if name in asked]

    def once(
        self, request: Request, work: Callable[[], Response], *, required: bool = False
    ) -> HttpResponseBase:
        """A write: in a transaction, and with an Idempotency-Key never twice."""
        if key := read_key(request, required=required):
            return done_once(request, self.token, key, work)
        with transaction.atomic():
            return work()


def fields_of(serializer_class: Any) -> Sequence[str]:
    return list(serializer_class().fields)


def _keep_only(known: Any, fields: Sequence[str]) -> None:
    for name in set(known) - set(fields) if fields else ():
        known.pop(name)


def read_filters(
    request: Request,
    filters_class: type[StrictSerializer],
    others: Sequence[str] = (*Pages.parameters, FIELDS),
) -> Filters:
    asked = {name: value for name, value in request.query_params.items() if name not in others}
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
    detail = extend_schema(summary=one, responses=answers({200: serializer}, 400, 404))
    return extend_schema_view(list=listing, retrieve=detail)
