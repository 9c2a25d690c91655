"""The map of a site, of a building and of a floor."""

from collections import Counter
from typing import Any
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.maps import access
from keyctl.maps.bars import draw_bars
from keyctl.maps.cells import draw_cells
from keyctl.maps.questions import Question, State
from keyctl.maps.selectors.places import (
    BuildingCounts,
    Group,
    MappedDoor,
    doors_on,
    floors_of,
    grouped,
    size_of,
)
from keyctl.maps.selectors.states import counts_of_site
from keyctl.places.models import Building, Floor, Site

# Building, floor, doors by state, doors.
TableRow = tuple[Building, Floor, list[int], int]
# So many bars, and so many cells, are read at a glance and make a light page.
BUILDINGS_ON_A_PAGE = 6
CELLS_ON_A_PAGE = 84


@require_GET
def site(request: Request, pk: UUID) -> HttpResponse:
    found = access.mapped_site(request.user, pk)
    facts = _asked(request, found)
    buildings = Paginator(found.buildings.order_by("code"), BUILDINGS_ON_A_PAGE)
    page: Page[Building] = buildings.get_page(request.GET.get("page"))
    counts = counts_of_site(facts["question"], found)
    facts |= {"page": page, "totals": _totals(facts["question"], counts), "doors": sum(counts.values())}
    return render(request, "maps/site.html", facts | _bars(facts["question"], found, list(page)))


@require_GET
def building(request: Request, pk: UUID) -> HttpResponse:
    """Its doors as cells where they are few enough, else its floors as bars."""
    found = access.mapped_building(request.user, pk)
    facts = _asked(request, found.site) | {"building": found}
    facts["totals"] = [(state, None) for state in facts["question"].states]
    shown = _bars(facts["question"], found.site, [found])
    if 0 < size_of(found) <= CELLS_ON_A_PAGE:
        shown |= _cells_of_building(facts["question"], found)
    return render(request, "maps/building.html", facts | shown)


@require_GET
def floor(request: Request, pk: UUID) -> HttpResponse:
    found = access.mapped_floor(request.user, pk)
    site = found.building.site
    facts = _asked(request, site)
    page = Paginator(found.doors.order_by("number", "pk"), CELLS_ON_A_PAGE).get_page(request.GET.get("page"))
    groups = grouped(doors_on(facts["question"], site, {"pk__in": [door.pk for door in page]}))
    facts |= {"floor": found, "page": page, "groups": groups}
    facts["totals"] = [(state, None) for state in facts["question"].states]
    return render(request, "maps/floor.html", facts | {"cells": draw_cells(facts["question"], groups)})


def _asked(request: Request, site: Site) -> dict[str, Any]:
    offered = access.questions_for(request.user, site)
    question = access.chosen_question(offered, request.GET.get("ask", ""))
    query = f"ask={question.code}"
    return {"site": site, "questions": offered, "question": question, "query": query}


def _bars(question: Question, site: Site, buildings: list[Building]) -> dict[str, Any]:
    counted = floors_of(question, site, buildings)
    return {"counted": counted, "rows": _table(question, counted), "bars": draw_bars(question, counted)}


def _table(question: Question, counted: list[BuildingCounts]) -> list[TableRow]:
    return [
        (each.building, floor.floor, [floor.counts[state.code] for state in question.states], floor.doors)
        for each in counted
        for floor in each.floors
    ]


def _cells_of_building(question: Question, building: Building) -> dict[str, Any]:
    """The highest floor first, as the building stands; its doors in one query."""
    on_floor: dict[UUID, list[MappedDoor]] = {}
    for door in doors_on(question, building.site, {"floor__building": building}):
        on_floor.setdefault(door.floor, []).append(door)
    floors = building.floors.order_by("-level", "-label")
    groups = [Group(str(floor), on_floor.get(floor.pk, [])) for floor in floors]
    return {"groups": groups, "cells": draw_cells(question, groups)}


def _totals(question: Question, counts: Counter[str]) -> list[tuple[State, int]]:
    return [(state, counts[state.code]) for state in question.states]
