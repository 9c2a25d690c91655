"""What each kind of export holds: how it is counted for history, read, and set on paper or as a workbook."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy

from keyctl.lib.language import Text
from keyctl.prints.frame import set_print
from keyctl.prints.lists import binder, doors, listing, lockchart, rows
from keyctl.prints.lists.parts import Place
from keyctl.prints.models import Export
from keyctl.prints.paper import Shape
from keyctl.prints.press.blocks import Area
from keyctl.prints.workbook import SheetOfRows
from keyctl.systems.models import KeySystem

Told = Callable[[int], None]


@dataclass(frozen=True)
class Contents:
    """``count`` says what is about to be read, without reading it; ``size`` how many things were."""

    count: Callable[[Export], str]
    read: Callable[[Export], Any]
    size: Callable[[Any], int]
    noun: Text
    paper: Callable[[Export, Any, Told], bytes]
    # None where paper alone makes sense.
    sheet: Callable[[Any], SheetOfRows] | None = None


def place_of(export: Export) -> Place:
    return Place(export.actor, export.site, export.building)


def system_of(export: Export) -> KeySystem:
    if export.system is None:  # a constraint says so of these kinds
        raise AssertionError
    return export.system


def pages_of(export: Export, found: Any) -> int:
    """How many pages it will have, about: told before the first one is set."""
    if isinstance(found, binder.Binder):
        return 3 + sum(map(len, binder.binder_areas(found).values()))
    return 1 + len(_areas_of(export, found))


def _areas_of(export: Export, found: Any) -> list[Area]:
    makers: dict[str, Callable[[Any], Sequence[Area]]] = {
        Export.Kind.BITTINGS: lambda keys: list(listing.bitting_areas(keys)),
        Export.Kind.SCHEDULE: lambda cores: list(listing.schedule_areas(cores)),
        Export.Kind.DOORS: doors.door_areas,
        Export.Kind.CHART: lambda charts: [area for each in charts for area in lockchart.chart_areas(each)],
    }
    return list(makers[export.kind](found))


def _listing(shape: Shape) -> Callable[[Export, Any, Told], bytes]:
    def set_listing(export: Export, found: Any, told: Told) -> bytes:
        contents = CONTENTS[Export.Kind(export.kind)]
        sheet = listing.sheet_of(export, contents.noun, contents.size(found), formats=_formats(export, found))
        areas = {"rows": _areas_of(export, found)}
        template, head = "prints/listing.html", listing.head_of(export)
        return set_print(template, head, areas=areas, shape=shape, told=told, sheet=sheet)

    return set_listing


def _formats(export: Export, found: Any) -> str:
    return doors.formats_of(found) if export.kind == Export.Kind.DOORS else ""


def _cores_counted(export: Export) -> str:
    system = system_of(export)
    return f"{rows.count_cores(system, export.site)} cores of {system.code}"


def _bittings_counted(export: Export) -> str:
    system = system_of(export)
    return f"the bittings of {system.symbols.count()} keys of {system.code}"


def _doors_counted(export: Export) -> str:
    return f"{place_of(export).doors.count()} doors of {export.about}"


def _charts_counted(export: Export) -> str:
    return f"the lock chart of {export.about}"


def _binder_counted(export: Export) -> str:
    words = f"doors, charts, keys and orders of {export.about}"
    return f"the bittings and {words}" if export.holds_bittings else words


CONTENTS = {
    Export.Kind.BITTINGS: Contents(
        count=_bittings_counted,
        read=lambda export: rows.key_rows(system_of(export)),
        size=len,
        noun=gettext_lazy("keys"),
        paper=_listing(Shape.UPRIGHT),
        sheet=listing.bitting_sheet,
    ),
    Export.Kind.SCHEDULE: Contents(
        count=_cores_counted,
        read=lambda export: rows.core_rows(system_of(export), export.site),
        size=len,
        noun=gettext_lazy("cores"),
        paper=_listing(Shape.WIDE),
        sheet=listing.schedule_sheet,
    ),
    Export.Kind.DOORS: Contents(
        count=_doors_counted,
        read=lambda export: doors.door_rows(place_of(export)),
        size=len,
        noun=gettext_lazy("locks"),
        paper=_listing(Shape.WIDE),
        sheet=doors.door_sheet,
    ),
    Export.Kind.CHART: Contents(
        count=_charts_counted,
        read=lambda export: [lockchart.read_chart(*each) for each in place_of(export).charts()],
        size=lambda charts: sum(len(chart.cores) for chart in charts),
        noun=gettext_lazy("cores"),
        paper=_listing(Shape.LARGE),
    ),
    Export.Kind.BINDER: Contents(
        count=_binder_counted,
        read=lambda export: binder.read_binder(place_of(export), with_bittings=export.holds_bittings),
        size=lambda found: len(found.doors),
        noun=gettext_lazy("locks"),
        paper=binder.set_binder,
    ),
}
