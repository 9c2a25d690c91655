"""What changed since, over all resources, in one order and with what is gone."""

from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from keyctl.api.auth import MissingScope
from keyctl.api.models import Scope
from keyctl.api.problems import BadQuery, Problem
from keyctl.api.schema import answers
from keyctl.api.serializers.changes import ChangeFilters, ChangesSerializer
from keyctl.api.views.base import Resource, read_filters
from keyctl.feed.kinds import KINDS
from keyctl.feed.models import Change
from keyctl.feed.selectors import BeginAnew, Listed, NoCursor, Page, Reach, changes_since
from keyctl.places.access import visible_sites

# What a token reads by another scope than that of the estate.
SCOPES = {
    "key-system": Scope.KEYS_READ,
    "key": Scope.KEYS_READ,
    "cabinet": Scope.KEYS_READ,
    "key-copy": Scope.KEYS_READ,
    "holder": Scope.HOLDERS_READ,
    "request": Scope.REQUESTS_READ,
    "work-order": Scope.ORDERS_READ,
}


class Changes(Resource):
    """Each thing that is new, changed or gone, once, where it changed last; to be read at its `url`.

    Follow `next` until it is null, keep `since`, and ask with it again later: nothing is missed, whoever
    changed it and however. A thing that left the token's sites is deleted to it.
    """

    queryset = Change.objects.none()
    serializer_class = ChangesSerializer
    filters_class = ChangeFilters
    pagination_class = None
    # Any token: each kind asks for its own scope.
    scopes: dict[str, Scope] = {}

    @extend_schema(
        summary="What changed since",
        parameters=[ChangeFilters],
        responses=answers({200: ChangesSerializer}, 400, 410),
    )
    def changes(self, request: Request) -> Response:
        asked = read_filters(request, ChangeFilters, others=())
        page = self._page(self._reach(asked.get("kinds")), asked.get("since", ""), asked["limit"])
        url = replace_query_param(request.build_absolute_uri(), "since", str(page.cursor))
        following = url if page.has_more else None
        body = {
            "results": [_row(request, row) for row in page.rows],
            "next": following,
            "since": str(page.cursor),
        }
        headers = {"Link": f'<{following}>; rel="next"'} if following else None
        return Response(ChangesSerializer(body).data, headers=headers)

    def rows(self, _filters: Any) -> QuerySet[Change]:
        raise NotImplementedError

    def _reach(self, asked: list[str] | None) -> Reach:
        readable = {kind for kind in KINDS if self.token.carries(_scope(kind))}
        for kind in asked or ():
            if kind not in readable:
                raise MissingScope(_scope(kind))
        sites = visible_sites(self.actor).order_by().values_list("pk", flat=True)
        return Reach(frozenset(sites), frozenset(asked or readable))

    def _page(self, reach: Reach, since: str, limit: int) -> Page:
        try:
            return changes_since(reach, since, limit)
        except NoCursor:
            raise BadQuery({"since": ["This is not a place in the feed: take it from since."]}) from None
        except BeginAnew:
            raise Problem("feed-begins-anew") from None


def _scope(kind: str) -> Scope:
    return SCOPES.get(kind, Scope.ESTATE_READ)


def _row(request: Request, row: Listed) -> dict[str, Any]:
    url = None if row.deleted else request.build_absolute_uri(reverse(f"api:{row.kind}", args=[row.id]))
    return {
        "sequence": row.sequence,
        "kind": row.kind,
        "id": row.id,
        "site": row.site,
        "deleted": row.deleted,
        "url": url,
    }
