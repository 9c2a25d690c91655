"""Who opens what: the keys of a door, the doors of a key, the doors of a holder; and what would change."""

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer

from keyctl.api import key_selectors as selectors
from keyctl.api.key_selectors import Filters
from keyctl.api.models import Scope
from keyctl.api.paging import Pages
from keyctl.api.problems import BadQuery
from keyctl.api.schema import answers
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.serializers.relations import (
    ExchangeFilters,
    HandFilters,
    OpenedDoorSerializer,
    OpenerSerializer,
    OpeningSerializer,
)
from keyctl.api.views.base import Resource, View, read_filters
from keyctl.cores.access import visible_cores
from keyctl.cores.models import Turn
from keyctl.cores.openings import Exchange, imagined, openings, turns_in_door, turns_of_key
from keyctl.keys.selectors.opening import Hand, doors_of_hand, hand_of, opened_by_hand
from keyctl.places.access import visible_doors, visible_housings
from keyctl.places.models import Door

NO_SUCH_THING = "This token reaches no such thing."


class Relation(Resource):
    """A list that belongs to one thing. Each page is worked out whole: rows of the database, then what they
    say, in a number of queries that does not depend on their number."""

    def related(self, pk: UUID, filters: Filters) -> QuerySet[Any]:
        raise NotImplementedError

    def worked_out(self, rows: Sequence[Any]) -> Sequence[Any]:
        raise NotImplementedError

    def list(self, request: Request, pk: UUID) -> Response:  # type: ignore[override]  # of one thing
        filters = read_filters(request, self.filters_class, Pages.parameters)
        page = self.paginate_queryset(self.related(pk, filters)) or []
        return self.get_paginated_response(self.get_serializer(self.worked_out(page), many=True).data)

    def named(self, visible: QuerySet[Any], filters: Filters, name: str) -> Any:
        """What a filter names; nothing where it does not stand in the query."""
        if name not in filters:
            return None
        found = visible.filter(pk=filters[name]).first()
        if found is None:
            raise BadQuery({name: [NO_SUCH_THING]})
        return found


class OfTurns(Relation):
    """Keys on cores, with a core imagined elsewhere."""

    queryset = Turn.objects.none()
    filters_class = ExchangeFilters
    exchange: Exchange | None = None

    def imagine(self, filters: Filters) -> Exchange | None:
        housing = self.named(visible_housings(self.actor), filters, "housing")
        core = self.named(visible_cores(self.actor), filters, "core")
        self.exchange = imagined(housing, core) if housing and core else None
        return self.exchange

    def worked_out(self, rows: Sequence[Turn]) -> Sequence[Any]:
        return openings(rows, self.exchange)


def _described(
    summary: str, serializer: type[Serializer[Any]], filters: type[StrictSerializer]
) -> Callable[[View], View]:
    listing = extend_schema(
        summary=summary, parameters=[filters], responses=answers({200: serializer(many=True)}, 400, 404, 422)
    )
    return extend_schema_view(list=listing)


@_described("Who opens a door", OpenerSerializer, ExchangeFilters)
class DoorOpeners(OfTurns):
    """Every key that turns a core in the door or takes it out, and why; never who holds it.

    With `housing` and `core` it tells what would change if the core were put there: `gained` is a key on
    the core that would come in, `lost` one on the core that would come out. Nothing is changed by asking.
    """

    serializer_class = OpenerSerializer
    scopes = {"GET": Scope.ESTATE_READ}

    def related(self, pk: UUID, filters: Filters) -> QuerySet[Turn]:
        door = get_object_or_404(visible_doors(self.actor), pk=pk)
        exchange = self.imagine(filters)
        if exchange and exchange.housing.door.pk != door.pk:
            raise BadQuery({"housing": ["This is a housing of another door."]})
        return turns_in_door(door, exchange)


@_described("Which doors a key opens", OpeningSerializer, ExchangeFilters)
class KeyDoors(OfTurns):
    """Every core in a door that the key turns or takes out, and why.

    With `housing` and `core` it tells what would change if the core were put there. Doors of sites that
    the token does not reach are left out. Nothing is changed by asking.
    """

    serializer_class = OpeningSerializer
    scopes = {"GET": Scope.KEYS_READ}
    order_key = "core_id"

    def related(self, pk: UUID, filters: Filters) -> QuerySet[Turn]:
        symbol = get_object_or_404(selectors.keys(self.actor, {}), pk=pk)
        return turns_of_key(self.actor, symbol, self.imagine(filters))


@_described("Which doors a holder opens", OpenedDoorSerializer, HandFilters)
class HolderDoors(Relation):
    """Every door that the holder opens with the copies that are out, and by which keys.

    With `with_key` or `without_copy` it tells what they would gain or lose. Doors of sites that the token
    does not reach are left out. Nothing is changed by asking.
    """

    queryset = Door.objects.none()
    serializer_class = OpenedDoorSerializer
    filters_class = HandFilters
    scopes = {"GET": Scope.HOLDERS_READ}
    hand = Hand(frozenset(), frozenset())

    def related(self, pk: UUID, filters: Filters) -> QuerySet[Door]:
        holder = get_object_or_404(selectors.holders(self.actor, {}), pk=pk)
        key = self.named(selectors.keys(self.actor, {}), filters, "with_key")
        copy = self.named(selectors.copies(self.actor, {}), filters, "without_copy")
        self.hand = hand_of(holder, with_key=key, without_copy=copy)
        doors = visible_doors(self.actor)
        if "site" in filters:
            doors = doors.filter(floor__building__site=filters["site"])
        return doors_of_hand(doors, self.hand, filters.get("change", ""))

    def worked_out(self, rows: Sequence[Door]) -> Sequence[Any]:
        return opened_by_hand(rows, self.hand)
