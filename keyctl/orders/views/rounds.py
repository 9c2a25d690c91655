"""The round sheet of a swap order: a page of doors, the core for each, and its three checks to tick."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.language import Text
from keyctl.orders import access, selectors, services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import LINES_A_PAGE, DoorTold

CHECKS = {
    "turned": gettext_lazy("Key turns"),
    "held": gettext_lazy("Core held, control key out"),
    "egress": gettext_lazy("Way out and latch tried"),
}


@dataclass(frozen=True)
class Row:
    """A door of the round. ``ticked`` is what was sent and not kept, ``why`` the reasons."""

    line: OrderLine
    core_now: Core | None
    core_in: Core | None
    ticked: frozenset[str] = frozenset()
    why: tuple[str, ...] = ()

    @property
    def is_ready(self) -> bool:
        return self.core_in is not None and self.core_in.is_pinned

    @property
    def checks(self) -> list[tuple[str, Text, bool]]:
        return [(name, label, name in self.ticked) for name, label in CHECKS.items()]


@require_http_methods(["GET", "POST"])
def sheet(request: Request, pk: UUID) -> HttpResponse:
    order = access.workable_order(request.user, pk)
    if order.kind != WorkOrder.Kind.SWAP:
        raise Http404
    return _told(request, order) if request.method == "POST" else _page(request, order)


def _told(request: Request, order: WorkOrder) -> HttpResponse:
    """What is kept leaves the sheet; what is refused stays on it with its reasons."""
    doors = _doors(request, selectors.round_lines(order).filter(pk__in=_sent(request)))
    try:
        result = services.tell_round(actor=request.user, order=order, doors=doors)
    except Refused as refused:
        return _page(request, order, told=refused.sentences)
    if result.done:
        messages.success(request, _("Swaps finished: {done}.").format(done=len(result.done)))
    if not result.refused:
        order.refresh_from_db()
        return redirect(reverse("orders:round" if order.is_open else "orders:detail", args=[order.pk]))
    return _page(request, order, why={line.pk: tuple(words) for line, words in result.refused})


def _sent(request: Request) -> list[UUID]:
    found = []
    for text in request.POST.getlist("line")[: 2 * LINES_A_PAGE]:
        try:
            found.append(UUID(text))
        except ValueError:
            raise Http404 from None
    return found


def _doors(request: Request, lines: Sequence[OrderLine] | Any) -> list[DoorTold]:
    return [
        DoorTold(
            line=line,
            core_in_version=_number(request.POST.get(f"version-{line.pk}", "")),
            core_out_id=_identifier(request.POST.get(f"out-{line.pk}", "")),
            operating_key_turned=f"turned-{line.pk}" in request.POST,
            control_key_came_out=f"held-{line.pk}" in request.POST,
            egress_and_latch_tried=f"egress-{line.pk}" in request.POST,
            put_at=Core.Place.BENCH,
        )
        for line in lines
    ]


def _number(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) < 10 else None


def _identifier(text: str) -> UUID | None:
    try:
        return UUID(text) if text else None
    except ValueError:
        raise Http404 from None


def _page(
    request: Request,
    order: WorkOrder,
    *,
    told: Sequence[str] = (),
    why: dict[UUID, tuple[str, ...]] | None = None,
) -> HttpResponse:
    page: Page[OrderLine] = Paginator(selectors.round_lines(order), LINES_A_PAGE).get_page(
        request.GET.get("page")
    )
    rows = [_row(request, line, (why or {}).get(line.pk, ())) for line in page]
    facts = {"order": order, "page": page, "rows": rows, "told": told, "cautions": _cautions(rows)}
    status = UNPROCESSABLE if told or why else 200
    return render(request, "orders/round.html", facts, status=status)


def _row(request: Request, line: OrderLine, why: tuple[str, ...]) -> Row:
    ticked = frozenset(name for name in CHECKS if why and f"{name}-{line.pk}" in request.POST)
    now = next(iter(line.housing.cores.all()), None) if line.housing else None
    return Row(line, now, line.core or line.meant, ticked, why)


def _cautions(rows: Sequence[Row]) -> list[str]:
    """What stands above the doors of this page, as far as it concerns one of them."""
    housings = [row.line.housing for row in rows if row.line.housing]
    found = {
        "egress": any(housing.door.is_egress for housing in housings),
        "fire": any(housing.door.is_fire_rated for housing in housings),
        "lockout": any(housing.kind in selectors.LOCKING_OUT for housing in housings),
    }
    return [kind for kind, is_there in found.items() if is_there]
