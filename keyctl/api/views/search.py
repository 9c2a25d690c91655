"""Finding things by what people call them, over all that the token reads."""

from collections.abc import Callable
from typing import Any, Final

from django.db.models import QuerySet
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.accounts.models import User
from keyctl.api import key_selectors, selectors
from keyctl.api.auth import MissingScope
from keyctl.api.models import Scope
from keyctl.api.schema import answers
from keyctl.api.serializers.search import FoundSerializer, SearchFilters
from keyctl.api.views.base import Resource, read_filters
from keyctl.places.access import visible_sites
from keyctl.search.models import Entry
from keyctl.search.reach import Reach
from keyctl.search.selectors import Hit, find
from keyctl.search.telling import is_current

# Of each kind the scope that reads it, and the rows that a token reaches.
Rows = Callable[[User, dict[str, Any]], "QuerySet[Any]"]
KINDS: Final[dict[str, tuple[Scope, Rows]]] = {
    "door": (Scope.ESTATE_READ, selectors.doors),
    "space": (Scope.ESTATE_READ, selectors.spaces),
    "building": (Scope.ESTATE_READ, selectors.buildings),
    "core": (Scope.ESTATE_READ, selectors.cores),
    "key": (Scope.KEYS_READ, key_selectors.keys),
    "key-copy": (Scope.KEYS_READ, key_selectors.copies),
    "key-system": (Scope.KEYS_READ, key_selectors.systems),
    "cabinet": (Scope.KEYS_READ, key_selectors.cabinets),
    "holder": (Scope.HOLDERS_READ, key_selectors.holders),
    "work-order": (Scope.ORDERS_READ, selectors.orders),
    "request": (Scope.REQUESTS_READ, key_selectors.requests),
}
# Words that only who reads holders may search by: a request is found by its holder's name.
ALSO: Final = {"request": Scope.HOLDERS_READ}


class Search(Resource):
    """By number, name, tag, symbol or serial; words in any order, errors of typing forgiven, best first.

    What the token does not read takes no part. A thing is told by its id and the address at which it is read.
    """

    queryset = Entry.objects.none()
    serializer_class = FoundSerializer
    filters_class = SearchFilters
    pagination_class = None
    # Any token: each kind asks for its own scope.
    scopes: dict[str, Scope] = {}

    @extend_schema(
        summary="Search", parameters=[SearchFilters], responses=answers({200: FoundSerializer}, 400)
    )
    def search(self, request: Request) -> Response:
        asked = read_filters(request, SearchFilters, others=())
        current = is_current()
        hits = find(self._reach(asked.get("kinds")), asked["q"]).hits
        rows = self._readable(hits[: 2 * asked["limit"]])[: asked["limit"]]
        body = {"results": [_told(request, hit) for hit in rows], "is_current": current}
        return Response(FoundSerializer(body).data)

    def rows(self, _filters: Any) -> QuerySet[Entry]:
        raise NotImplementedError

    def _reach(self, asked: list[str] | None) -> Reach:
        readable = {kind for kind in KINDS if self._reads(kind)}
        for kind in asked or ():
            if kind not in readable:
                raise MissingScope(ALSO[kind] if self._carries(kind) else KINDS[kind][0])
        sites = frozenset(visible_sites(self.actor).order_by().values_list("pk", flat=True))
        return Reach(dict.fromkeys(asked or sorted(readable), sites))

    def _reads(self, kind: str) -> bool:
        return self._carries(kind) and (kind not in ALSO or self.token.carries(ALSO[kind]))

    def _carries(self, kind: str) -> bool:
        return self.token.carries(KINDS[kind][0])

    def _readable(self, hits: list[Hit]) -> list[Hit]:
        """Asked once more of the rows that this token is told of elsewhere."""
        there = set()
        for kind in {hit.kind for hit in hits}:
            things = {hit.thing for hit in hits if hit.kind == kind}
            rows = KINDS[kind][1](self.actor, {}).filter(pk__in=things).order_by()
            there |= {(kind, pk) for pk in rows.values_list("pk", flat=True)}
        return [hit for hit in hits if (hit.kind, hit.thing) in there]


def _told(request: Request, hit: Hit) -> dict[str, Any]:
    url = request.build_absolute_uri(reverse(f"api:{hit.kind}", args=[hit.thing]))
    return {"kind": hit.kind, "id": hit.thing, "is_whole": hit.rank.tier == 0, "url": url}
