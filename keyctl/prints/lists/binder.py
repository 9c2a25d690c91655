"""The hand-over binder: one print that tells whoever takes over a building or a site what stands there.

Cover, contents, doors, lock charts, keys and who holds them, open orders, the control key, and what the signs
mean. Who holds which key is for those who may read that; bittings stand in it only where they were asked for
and a second person permitted it.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.cores.marks import Mark
from keyctl.keys.access import READERS as KEY_READERS
from keyctl.keys.models import KeyCopy
from keyctl.lib.days import day
from keyctl.orders.models import WorkOrder
from keyctl.places.access import has_role
from keyctl.prints.frame import set_print
from keyctl.prints.lists import doors, listing, lockchart, rows
from keyctl.prints.lists.parts import Place
from keyctl.prints.models import Export
from keyctl.prints.paper import Shape, paper
from keyctl.prints.press.blocks import HEADING, Area, Column, Grid, fitting, parted, rows_of
from keyctl.systems.models import KeySystem

COUNT_COLUMNS = (
    *(
        Column(gettext_lazy("Key"), 24),
        Column(gettext_lazy("Kind"), 18),
        Column(gettext_lazy("With holders"), 15),
    ),
    *(Column(gettext_lazy("In cabinets"), 15), Column(gettext_lazy("Lost"), 10)),
)
COPY_COLUMNS = (
    *(Column(gettext_lazy("Key"), 17), Column(gettext_lazy("Serial"), 16), Column(gettext_lazy("Where"), 23)),
    *(
        Column(gettext_lazy("Holder or cabinet"), 28),
        Column(gettext_lazy("Since"), 14),
        Column(gettext_lazy("Due"), 14),
    ),
)
ORDER_COLUMNS = (
    *(Column(gettext_lazy("No."), 7), Column(gettext_lazy("Kind"), 18), Column(gettext_lazy("Title"), 36)),
    *(Column(gettext_lazy("State"), 14), Column(gettext_lazy("Opened"), 14), Column(gettext_lazy("Due"), 14)),
)
LARGEST = 8.0


@dataclass(frozen=True)
class Binder:
    """All that was read for it, before the first page is set."""

    place: Place
    doors: list[doors.DoorRow]
    charts: list[lockchart.Chart]
    reads_keys: bool
    copies: list[KeyCopy]
    orders: list[WorkOrder]
    systems: list[KeySystem]
    bittings: list[tuple[KeySystem, list[rows.KeyRow]]]

    @property
    def formats(self) -> str:
        return doors.formats_of(self.doors)

    @property
    def signs(self) -> list[tuple[str, str]]:
        return [(lockchart.SIGNS[mark], str(mark.label)) for mark in Mark]


def read_binder(place: Place, *, with_bittings: bool) -> Binder:
    """The caller has told history before."""
    charts = [lockchart.read_chart(building, part) for building, part in place.charts()]
    keys = {key.pk for chart in charts for key in chart.keys}
    systems = sorted({key.system for chart in charts for key in chart.keys}, key=lambda each: each.code)
    copies = list(place.copies(keys).select_related("custody"))
    return Binder(
        place=place,
        doors=doors.door_rows(place),
        charts=charts,
        reads_keys=has_role(place.actor, place.site, *KEY_READERS),
        copies=copies,
        orders=list(place.open_orders()),
        systems=systems,
        bittings=[(each, rows.key_rows(each, only=keys)) for each in systems] if with_bittings else [],
    )


def set_binder(export: Export, binder: Binder, told: Callable[[int], None]) -> bytes:
    areas = binder_areas(binder)
    return set_print(
        "prints/binder.html", listing.head_of(export), areas=areas, told=told, binder=binder, export=export
    )


def binder_areas(binder: Binder) -> dict[str, list[Area]]:
    """Each part begins a page, under its heading."""
    first = paper().body_height - HEADING
    bittings = [
        area
        for nth, (system, keys) in enumerate(binder.bittings)
        for area in listing.bitting_areas(keys, None if nth else first, system.code)
    ]
    return {
        "doors": doors.door_areas(binder.doors, _wide_first()),
        "charts": [area for chart in binder.charts for area in lockchart.chart_areas(chart)],
        "counts": _table(COUNT_COLUMNS, _counts(binder.copies), first),
        "copies": _table(COPY_COLUMNS, map(_copy, binder.copies), first),
        "orders": _table(ORDER_COLUMNS, map(_order, binder.orders), first),
        "bittings": bittings,
    }


def _wide_first() -> float:
    return paper(Shape.WIDE).body_height - HEADING


def _table(columns: Sequence[Column], told: Iterable[tuple[str, ...]], first: float) -> list[Area]:
    sheet = paper()
    size = fitting(columns, sheet.body_width, LARGEST)
    return list(parted(Grid(tuple(columns), rows_of(columns, told), size=size), sheet.body_height, first))


def _counts(copies: Sequence[KeyCopy]) -> Iterator[tuple[str, ...]]:
    """How many copies of each key there are, and where."""
    wanted = (KeyCopy.State.HELD, KeyCopy.State.IN_CABINET, KeyCopy.State.LOST)
    for _, group in groupby(copies, key=lambda copy: copy.symbol_id):
        own = list(group)
        symbol, states = own[0].symbol, [copy.state for copy in own]
        numbers = (str(states.count(state)) for state in wanted)
        yield f"{symbol.system.code}/{symbol}", symbol.get_kind_display(), *numbers


def _copy(copy: KeyCopy) -> tuple[str, ...]:
    custody = copy.custody
    return (
        f"{copy.symbol.system.code}/{copy.symbol}",
        str(copy),
        copy.get_state_display(),
        str(copy.holder or copy.cabinet or "–"),
        _day(custody.out_at) if custody else "",
        _day(custody.due_at) if custody else "",
    )


def _order(order: WorkOrder) -> tuple[str, ...]:
    due = day(order.due_on)
    kind, state = order.get_kind_display(), order.get_state_display()
    return str(order.number), kind, order.title, state, _day(order.opened_at), due


def _day(at: datetime | None) -> str:
    return day(timezone.localtime(at)) if at else ""
