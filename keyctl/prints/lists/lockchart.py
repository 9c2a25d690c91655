"""The lock chart: cores against keys on large sheets, parted both ways with their heads repeated.

A sign says what a key does to a core by the pins; each has a shape of its own and words for reading aloud.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.chart import Part
from keyctl.cores.marks import Mark, mark_of
from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import planned_keys
from keyctl.places.models import Building
from keyctl.prints.paper import Shape, paper
from keyctl.prints.press.blocks import Area, Block, Column, Grid, Words, rows_of
from keyctl.systems.models import KeySymbol

SIGNS = {
    Mark.TURNS: "●",
    Mark.TURNS_UNPLANNED: "◆",
    Mark.DOES_NOT: "×",
    Mark.TAKES_OUT: "▲",
    Mark.TAKES_OUT_UNPLANNED: "‡",
    Mark.WAITS: "○",
}
SPOKEN = {sign: mark.label for mark, sign in SIGNS.items()}
HEADS = (Column(gettext_lazy("Door"), 18), Column(gettext_lazy("Core"), 17))
KEY_WIDTH = 3
SIZE = 7.0
TITLE = Words("", 10, is_bold=True, tag="H3")
BATCH = 500

Thing = TypeVar("Thing")
Marks = dict[tuple[UUID, UUID], str]


@dataclass(frozen=True)
class Chart:
    building: Building
    cores: Sequence[Core]
    keys: Sequence[KeySymbol]
    marks: Marks


def read_chart(building: Building, part: Part) -> Chart:
    cores = list(part.cores.defer("pinning").select_related("housing__door__floor__building__site"))
    keys = list(part.keys)
    marks: Marks = {}
    for start in range(0, len(cores), BATCH):
        marks |= _marks(cores[start : start + BATCH], keys)
    return Chart(building, cores, keys, marks)


def chart_areas(chart: Chart) -> list[Area]:
    """A page for each rectangle that holds a mark; the others are left out."""
    sheet = paper(Shape.LARGE)
    keys = _chunks(chart.keys, _keys_on_a_page(sheet.body_width))
    pages = [
        _page(chart, cores, part)
        for part in keys
        for cores in _chunks(chart.cores, _cores_on_a_page(sheet.body_height, chart.keys))
    ]
    return [Area(sheet.body_height, (block,)) for block in pages if block]


def _page(chart: Chart, cores: Sequence[Core], keys: Sequence[KeySymbol]) -> Block | None:
    rows = [[chart.marks.get((core.pk, key.pk), "") for key in keys] for core in cores]
    if not any(map(any, rows)):
        return None
    columns = (*HEADS, *(Column(_title(chart, key), KEY_WIDTH) for key in keys))
    lines = rows_of(columns, ((_door(core), str(core), *row) for core, row in zip(cores, rows, strict=True)))
    grid = Grid(
        columns,
        lines,
        heads=frozenset({0, 1}),
        size=SIZE,
        upwards=len(HEADS),
        spoken={mark: str(words) for mark, words in SPOKEN.items()},
    )
    words = _("{building}: doors {first_door} to {last_door}, keys {first_key} to {last_key}").format(
        building=chart.building.code,
        first_door=_door(cores[0]),
        last_door=_door(cores[-1]),
        first_key=keys[0],
        last_key=keys[-1],
    )
    return Block((Words(words, TITLE.size, is_bold=True, tag="H3"), grid))


def _door(core: Core) -> str:
    return core.housing.door.number if core.housing else "–"


def _title(chart: Chart, key: KeySymbol) -> str:
    systems = {each.system_id for each in chart.keys}
    return f"{key.system.code}/{key}" if len(systems) > 1 else str(key)


def _keys_on_a_page(width: float) -> int:
    signs = int(width / Grid((Column("", 1),), (), size=SIZE).width)
    return max(1, (signs - sum(column.width for column in HEADS)) // KEY_WIDTH)


def _cores_on_a_page(height: float, keys: Sequence[KeySymbol]) -> int:
    """With room for the longest symbol, written upwards, and a system's code before it."""
    longest = max((len(str(key)) + len(key.system.code) + 1 for key in keys), default=1)
    columns = (*HEADS, Column("n" * longest, KEY_WIDTH))
    grid = Grid(columns, ((("n",),) * len(columns),), size=SIZE, upwards=len(HEADS))
    room = height - TITLE.height - grid.head_height - Block(()).height
    return max(1, int(room / grid.row_height(grid.rows[0])))


def _chunks(things: Sequence[Thing], size: int) -> Iterator[Sequence[Thing]]:
    for start in range(0, len(things), size):
        yield things[start : start + size]


def _marks(cores: Sequence[Core], keys: Sequence[KeySymbol]) -> Marks:
    """Only what is planned or turns something: most cells of a chart are empty."""
    known = {key.pk: key for key in keys}
    controls = [key for key in keys if key.is_control]
    planned = planned_keys(core.pk for core in cores)
    turns: dict[UUID, dict[UUID, tuple[bool, bool]]] = {core.pk: {} for core in cores}
    found = Turn.objects.filter(core__in=cores).values_list("core", "symbol", "operates", "withdraws")
    for core_id, symbol_id, operates, withdraws in found:
        turns[core_id][symbol_id] = operates, withdraws
    marks: Marks = {}
    for core in cores:
        meant = {*planned[core.pk], *(key.pk for key in controls if key.system_id == core.system_id)}
        is_pinned = core.pinned_at is not None
        for pk in (meant | turns[core.pk].keys()) & known.keys():
            turn = turns[core.pk].get(pk)
            mark = mark_of(known[pk], is_planned=pk in meant, is_pinned=is_pinned, turn=turn)
            if mark:
                marks[core.pk, pk] = SIGNS[mark]
    return marks
