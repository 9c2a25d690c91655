"""What the pages of exposure share: a core's facts in words, the chosen cell, the heat view of places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Model, QuerySet
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.exposure.bars import Bars, draw_bars, planned_turning
from keyctl.exposure.heat import Heat, Line, draw_heat
from keyctl.exposure.models import CoreExposure
from keyctl.exposure.selectors import cells, exposure_of, tops_inside, turns_against_plan
from keyctl.exposure.wording import arguments, short_argument
from keyctl.places.models import Building, Site
from keyctl.systems.models import KeySystem

NOWHERE = gettext_lazy("In no door")
BUILDING = "housing__door__floor__building"


@dataclass(frozen=True)
class Row:
    core: Core
    found: CoreExposure
    is_stale: bool
    argument: str


def rows_of(cores: Iterable[Core]) -> list[Row]:
    return [
        Row(core, core.exposure, core.exposure.pinned_at != core.pinned_at, short_argument(core.exposure))
        for core in cores
    ]


def core_facts(core: Core) -> dict[str, Any]:
    found = exposure_of(core)
    return {
        "found": found,
        "arguments": arguments(found) if found else [],
        "turns": turns_against_plan(core),
        "tops": tops_inside(core),
        "bars": _bars(core, found) if found else None,
    }


def _bars(core: Core, found: CoreExposure) -> Bars:
    title = _("What the pins of core {core} let in").format(core=core)
    return draw_bars(found, planned_turning(core), title=title)


def heat_of_places(cores: QuerySet[Core], across: Sequence[Line], *, title: str) -> Heat | None:
    buildings = Building.objects.filter(site__in=cores.order_by().values("site")).select_related("site")
    down = [Line(each.pk, f"{each.code} {each}", f"building={each.pk}") for each in buildings]
    down.append(Line(None, str(NOWHERE), "building=none"))
    return draw_heat(cells(cores, across="system", down=BUILDING), down, across, title=title)


def chosen(query: QueryDict, cores: QuerySet[Core]) -> tuple[QuerySet[Core], list[str]]:
    """The cores of the cell that the query names, and the cell in words; what nobody can mean is ignored."""
    words: list[str] = []
    for name, model, path in (
        ("site", Site, "site"),
        ("building", Building, BUILDING),
        ("system", KeySystem, "system"),
    ):
        text = query.get(name, "")
        if name == "building" and text == "none":
            cores, words = cores.filter(housing__isnull=True), [*words, NOWHERE.lower()]
        elif (pk := _uuid(text)) and (thing := _among(model, pk, cores, path)):
            cores, words = cores.filter(**{path: thing}), [*words, str(thing)]
    return cores, words


def _among(model: type[Model], pk: UUID, cores: QuerySet[Core], path: str) -> Model | None:
    """Only what a core of the page belongs to: another site's thing is not named to whoever knows its pk."""
    mine = cores.order_by().values(path)
    return model._default_manager.filter(pk__in=mine).filter(pk=pk).first()


def page_query(query: QueryDict) -> str:
    """The page's own query without the page number, for the pager's links."""
    kept = query.copy()
    kept.pop("page", None)
    return kept.urlencode()


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
