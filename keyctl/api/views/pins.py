"""The pins of one core, for a program that people let read them. Nothing here is listed or kept."""

from uuid import UUID

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.api.models import Scope
from keyctl.api.once import HEADER
from keyctl.api.pins import ask_to_read, read_pins
from keyctl.api.problems import BadHeader
from keyctl.api.schema import answers
from keyctl.api.serializers.pins import (
    AskToReadSerializer,
    CorePinsSerializer,
    PermissionSerializer,
    ReadPinsSerializer,
)
from keyctl.api.views.writing import Facts, Writing, one_of
from keyctl.cores.access import visible_cores
from keyctl.cores.models import Core
from keyctl.orders.access import visible_orders
from keyctl.reveals.models import Permission


class CorePins(Writing):
    """A look is a POST: it is written into history before the vault opens, and counts against the quota."""

    queryset = Core.objects.none()
    scopes = {"POST": Scope.PINNING_READ}

    @extend_schema(
        summary="Read how a core is pinned",
        description=(
            "Only while a window is open that a security officer opened for this token, and on one ground: "
            "an order that people opened and that names the core, or a permission for it. A core keyed to "
            "masters alone takes a permission. The answer is kept nowhere; do not keep it either."
        ),
        request=ReadPinsSerializer,
        responses=answers({200: CorePinsSerializer}, 400, 404, 409, 413, 415, 422, 503),
    )
    def read(self, request: Request, pk: UUID) -> Response:
        self._refuse_keeping(request)
        core = get_object_or_404(visible_cores(self.actor), pk=pk)
        facts = self.facts(ReadPinsSerializer, request.data)
        pinned = read_pins(token=self.token, core=core, **self._ground(facts))
        answer = {"core": core, "format": pinned.format.id, "stacks": pinned.stacks}
        return Response(CorePinsSerializer(answer).data, headers={"Cache-Control": "no-store"})

    @extend_schema(
        summary="Ask to read how a core is pinned",
        description="A security officer of the site decides; the permission is for this token and this core.",
        request=AskToReadSerializer,
        responses=answers({201: PermissionSerializer}, 400, 404, 409, 413, 415, 422),
    )
    def ask(self, request: Request, pk: UUID) -> Response:
        self._refuse_keeping(request)
        core = get_object_or_404(visible_cores(self.actor), pk=pk)
        facts = self.facts(AskToReadSerializer, request.data)
        asked = ask_to_read(token=self.token, core=core, reason=facts["reason"])
        return Response(PermissionSerializer(asked).data, status=status.HTTP_201_CREATED)

    def _ground(self, facts: Facts) -> Facts:
        if "order" in facts:
            return {"order": one_of(visible_orders(self.actor), facts["order"], "order")}
        own = Permission.objects.filter(asked_by=self.actor).with_names()
        return {"permission": one_of(own, facts["permission"], "permission")}

    def _refuse_keeping(self, request: Request) -> None:
        if HEADER in request.headers:
            words = "Leave it out: an answer about pins is kept for nobody, and each look counts."
            raise BadHeader({HEADER: [words]})
