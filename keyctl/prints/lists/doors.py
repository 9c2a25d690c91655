"""The door schedule: each lock of each door, its core and the keys that turn it by the pins. No bitting."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.cores.models import Core, Turn
from keyctl.formats.naming import name_of
from keyctl.places.models import Door, Housing
from keyctl.prints.lists.parts import Place
from keyctl.prints.lists.rows import longest_first
from keyctl.prints.paper import Shape, paper
from keyctl.prints.press.blocks import Area, Column, Grid, fitting, parted, rows_of
from keyctl.prints.workbook import SheetColumn, SheetOfRows

COLUMNS = (
    *(
        Column(gettext_lazy("Door"), 15),
        Column(gettext_lazy("Name"), 23),
        Column(gettext_lazy("Between"), 17),
        Column(gettext_lazy("Class"), 12),
    ),
    *(
        Column(gettext_lazy("Way out, fire"), 15),
        Column(gettext_lazy("Lock"), 18),
        Column(gettext_lazy("Core"), 16),
        Column(gettext_lazy("Format"), 18),
    ),
    Column(gettext_lazy("Turned by"), 27),
)
HEADS = frozenset({0, 5})
LARGEST = 8.0


@dataclass(frozen=True, slots=True)
class DoorRow:
    """One lock; a door without one has a row as well."""

    door: str
    name: str
    spaces: str
    door_class: str
    cautions: str
    lock: str
    core: str
    format: str
    keys: str


def door_rows(place: Place) -> list[DoorRow]:
    keys = _keys_by_core(place)
    doors = place.doors.prefetch_related("spaces", "housings__cores__system")
    return [row for door in doors for row in _rows_of(door, keys)]


def door_areas(rows: Sequence[DoorRow], first: float | None = None) -> list[Area]:
    """``first`` is what the first page has left for it."""
    sheet = paper(Shape.WIDE)
    size = fitting(COLUMNS, sheet.body_width, LARGEST)
    lines = rows_of(COLUMNS, map(astuple, rows))
    return list(parted(Grid(COLUMNS, lines, heads=HEADS, size=size), sheet.body_height, first))


def door_sheet(rows: Sequence[DoorRow]) -> SheetOfRows:
    columns = tuple(SheetColumn(column.title, column.width) for column in COLUMNS)
    return SheetOfRows(_("Doors"), columns, map(astuple, rows))


def formats_of(rows: Sequence[DoorRow]) -> str:
    """What the short names of formats stand for."""
    names = sorted({row.format for row in rows} - {""})
    return "; ".join(f"{name}: {name_of(engine.load_format(name))}" for name in names)


def _rows_of(door: Door, keys: dict[UUID, list[str]]) -> Iterator[DoorRow]:
    facts = (
        str(door),
        door.name,
        ", ".join(sorted(space.number for space in door.spaces.all())),
        door.get_door_class_display(),
        _cautions(door),
    )
    housings = sorted(door.housings.all(), key=_told)
    if not housings:
        yield DoorRow(*facts, _("none"), "", "", "")
    for housing in housings:
        cores = list(housing.cores.all())
        yield DoorRow(*facts, _told(housing), *_core_facts(cores[0] if cores else None, keys))


def _told(housing: Housing) -> str:
    return housing.label or housing.get_kind_display()


def _cautions(door: Door) -> str:
    fire = _("fire {rating}").format(rating=door.fire_rating).strip() if door.is_fire_rated else ""
    return ", ".join(filter(None, (_("way out") if door.is_egress else "", fire)))


def _core_facts(core: Core | None, keys: dict[UUID, list[str]]) -> tuple[str, str, str]:
    if core is None:
        return _("no core"), "", ""
    turned = " ".join(longest_first(keys[core.pk])) if core.is_pinned else _("not pinned yet")
    return str(core), core.format_id, turned or _("no key")


def _keys_by_core(place: Place) -> dict[UUID, list[str]]:
    """By the pins; a key of another system than the core's with the code of its own."""
    found: dict[UUID, list[str]] = defaultdict(list)
    turns = Turn.objects.filter(operates=True, core__housing__door__in=place.doors.order_by().values("pk"))
    columns = ("core_id", "core__system_id", "symbol__system_id", "symbol__system__code", "symbol__symbol")
    for core, own, system, code, name in turns.values_list(*columns):
        found[core].append(name if own == system else f"{code}/{name}")
    return found
