"""Work orders: read them, open one."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.http.response import HttpResponseBase
from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.accounts.models import User
from keyctl.api import selectors
from keyctl.api.etags import tag_of
from keyctl.api.models import Scope
from keyctl.api.schema import answers
from keyctl.api.selectors import Filters
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.serializers.orders import (
    NEW_ORDERS,
    KindSerializer,
    WorkOrderFilters,
    WorkOrderSerializer,
)
from keyctl.api.terms import Terms, under
from keyctl.api.views.base import described, read_filters
from keyctl.api.views.writing import Facts, Writing, act
from keyctl.cores.access import visible_cores
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.places.access import visible_doors, visible_housings, visible_sites

Row = TypeVar("Row", bound=Model)

# What opens an order of each kind, and what it names.
OPENERS: dict[str, tuple[Callable[..., WorkOrder], str]] = {
    WorkOrder.Kind.SWAP: (services.open_swap_order, "housings"),
    WorkOrder.Kind.PIN: (services.open_pin_order, "cores"),
    WorkOrder.Kind.INSPECT: (services.open_inspect_order, "doors"),
    WorkOrder.Kind.DECODE: (services.open_decode_order, "cores"),
    WorkOrder.Kind.LOCK_OUT: (services.open_lock_out, "housings"),
}
VISIBLE: dict[str, Callable[[User], QuerySet[Any]]] = {
    "housings": visible_housings,
    "cores": visible_cores,
    "doors": visible_doors,
}

NEW_ORDER = PolymorphicProxySerializer(
    component_name="NewWorkOrder", serializers={**NEW_ORDERS}, resource_type_field_name="kind", many=False
)


@described("Work orders", "One work order", WorkOrderSerializer, WorkOrderFilters)
class WorkOrders(Writing):
    """Work orders with their lines, in the order of their numbers."""

    queryset = WorkOrder.objects.none()
    serializer_class = WorkOrderSerializer
    filters_class = WorkOrderFilters
    scopes = {"GET": Scope.ORDERS_READ, "POST": Scope.ORDERS_WRITE}
    order_key = "number"
    detail_route = "work-order"

    def rows(self, filters: Filters) -> QuerySet[WorkOrder]:
        return selectors.orders(self.actor, filters)

    @extend_schema(
        summary="Open a work order",
        description=(
            "Its kind says what it names: the housings whose cores are to be swapped or that are to be kept "
            "shut, cores to pin or to decode, doors to inspect."
        ),
        request=NEW_ORDER,
        responses=answers({201: WorkOrderSerializer}, 400, 409, 413, 415, 422),
    )
    @under(Terms(key="optional"))
    def create(self, request: Request) -> HttpResponseBase:
        read_filters(request, StrictSerializer, others=())
        facts = read_order(request.data)
        return self.once(request, lambda: self.opened(facts))

    def opened(self, facts: Facts) -> Response:
        pk = open_order(self.actor, facts).pk
        whole = self.fresh(pk)
        headers = {"Location": self.place_of(pk), "ETag": tag_of(whole)}
        return Response(whole, status=status.HTTP_201_CREATED, headers=headers)

    @act("Take a work order back", StrictSerializer, WorkOrderSerializer)
    def cancel(self, row: WorkOrder, _facts: Facts) -> None:
        """Only what this token opened, and only while nobody has begun; people cancel and assign the rest."""
        services.take_back_order(actor=self.actor, order=row)


def read_order(body: Any) -> dict[str, Any]:
    """The facts of a new order; its kind is read first, because it says which facts there are."""
    kind = KindSerializer(data=body)
    kind.is_valid(raise_exception=True)
    facts = NEW_ORDERS[kind.validated_data["kind"]](data=body)
    facts.is_valid(raise_exception=True)
    return dict(facts.validated_data)


def open_order(actor: User, facts: dict[str, Any]) -> WorkOrder:
    kind, site_id = facts.pop("kind"), facts.pop("site")
    site = visible_sites(actor).filter(pk=site_id).first()
    if site is None:
        raise serializers.ValidationError({"site": ["This token reaches no such site."]})
    opener, name = OPENERS[kind]
    facts[name] = named(VISIBLE[name](actor), facts[name], name)
    return opener(actor=actor, site=site, **facts)


def named(visible: QuerySet[Row], ids: Sequence[UUID], name: str) -> list[Row]:
    """The rows with these ids in this order, in one query; an unknown or foreign one is told by its place."""
    found = visible.in_bulk(ids)
    wrong: dict[Any, Any] = {
        place: [problem]
        for place, pk in enumerate(ids)
        if (problem := _why_not(pk, pk in found, pk in ids[:place]))
    }
    if wrong:
        raise serializers.ValidationError({name: wrong})
    return [found[pk] for pk in ids]


def _why_not(pk: UUID, is_known: bool, is_repeated: bool) -> str | None:
    if not is_known:
        return f"This token reaches no such thing: {pk}."
    return f"Named twice: {pk}." if is_repeated else None
