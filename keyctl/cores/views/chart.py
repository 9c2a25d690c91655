"""Charts of a part of the estate as a page, and as one drawing for printing."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.cores.chart import Part, branch_part, building_part, chart_of, door_part
from keyctl.cores.chartdrawing import draw_chart
from keyctl.places.access import readable_building, readable_door
from keyctl.places.models import Floor
from keyctl.systems.access import readable_symbol
from keyctl.systems.selectors import ancestors


@require_GET
def key_chart(request: Request, pk: UUID) -> HttpResponse:
    symbol = readable_symbol(request.user, pk)
    title = _("{symbol} of {system}").format(symbol=symbol, system=symbol.system)
    facts = {"symbol": symbol, "above": ancestors(symbol)[::-1], "title": title}
    return _page(request, branch_part(request.user, symbol), facts)


@require_GET
def building_chart(request: Request, pk: UUID) -> HttpResponse:
    building = readable_building(request.user, pk)
    floors = list(Floor.objects.filter(building=building).order_by("level", "label"))
    floor = next((each for each in floors if str(each.pk) == request.GET.get("floor")), None)
    title = f"{building}, {floor}" if floor else str(building)
    facts = {"building": building, "floors": floors, "floor": floor, "title": title}
    return _page(request, building_part(request.user, building, floor), facts)


@require_GET
def door_chart(request: Request, pk: UUID) -> HttpResponse:
    door = readable_door(request.user, pk)
    title = _("{door} and its neighbours").format(door=door)
    return _page(request, door_part(request.user, door), {"door": door, "title": title})


def _page(request: Request, part: Part, facts: dict[str, Any]) -> HttpResponse:
    chart = chart_of(request.user, part, request.GET.get("cores"), request.GET.get("keys"))
    if request.GET.get("as") == "drawing":
        drawing = draw_chart(chart, title=_("Chart of {facts}").format(facts=facts["title"]))
        return render(request, "cores/chart.svg", {"drawing": drawing}, content_type="image/svg+xml")
    context = facts | {"chart": chart, "floor_query": _floor_query(facts), "pages": _pages(chart, facts)}
    return render(request, "cores/chart.html", context)


def _floor_query(facts: dict[str, Any]) -> str:
    return f"floor={facts['floor'].pk}&" if facts.get("floor") else ""


def _pages(chart: Any, facts: dict[str, Any]) -> list[dict[str, Any]]:
    """Both directions of paging; each link keeps the place in the other."""
    rows, keys = chart.row_page, chart.key_page
    kept = _floor_query(facts)
    return [
        {"page": rows, "words": _("Cores"), "query": f"{kept}keys={keys.number}&cores="},
        {"page": keys, "words": _("Keys"), "query": f"{kept}cores={rows.number}&keys="},
    ]
