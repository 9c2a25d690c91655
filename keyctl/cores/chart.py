"""A chart of a chosen part of the estate: its cores against the keys that mean something to them.

What a key does comes from the stored turns, which the pins gave; what it should do, from the keyings. A part
is a branch of a key system, a building or one of its floors, or the neighbourhood of a door.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.db.models import Case, F, Model, Q, QuerySet, Value, When
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from keyctl.accounts.models import User
from keyctl.cores.access import visible_cores
from keyctl.cores.marks import Mark, mark_of
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.selectors import planned_keys
from keyctl.engine import MOST_LEVELS
from keyctl.places.models import Building, Door, Floor
from keyctl.systems.access import visible_systems
from keyctl.systems.models import KeySymbol

CORES_ON_A_PAGE = 60
KEYS_ON_A_PAGE = 60
STEPS_UP = ["__".join(["parent"] * steps) for steps in range(1, MOST_LEVELS)]
CONTROL = KeySymbol.Kind.CONTROL
AFTER_ALL_LEVELS = MOST_LEVELS + 1
BY_PLACE: list[str | Case] = [
    Case(When(housing__isnull=True, then=Value(1)), default=Value(0)),
    "housing__door__floor__building__site__code",
    "housing__door__floor__building__code",
    "housing__door__floor__level",
    "housing__door__number",
    "tag",
]


@dataclass(frozen=True)
class Part:
    """What a chart shows, and the thing it was asked for."""

    thing: Model
    cores: QuerySet[Core]
    keys: QuerySet[KeySymbol]


@dataclass(frozen=True)
class Cell:
    mark: Mark | None
    words: str


@dataclass(frozen=True)
class Row:
    core: Core
    cells: tuple[Cell, ...]
    is_chosen: bool


@dataclass(frozen=True)
class Band:
    """Neighbouring keys of one system and rank: a heading over their columns."""

    words: str
    size: int


@dataclass(frozen=True)
class Chart:
    rows: list[Row]
    keys: list[KeySymbol]
    bands: list[Band]
    counts: list[tuple[Mark, int]]
    row_page: Page[Core]
    key_page: Page[KeySymbol]
    # Systems of which the reader may open the pages of keys.
    linked: frozenset[UUID]


def branch_part(actor: User, top: KeySymbol) -> Part:
    """The key and all below it, with the control key of the system, and the cores they are for or turn."""
    below = Q(pk=top.pk)
    for steps in STEPS_UP:
        below |= Q(**{steps: top})
    branch = KeySymbol.objects.filter(below, system=top.system)
    cores = visible_cores(actor).filter(
        Q(pk__in=Keying.objects.filter(symbol__in=branch).values("core"))
        | Q(pk__in=Turn.objects.filter(symbol__in=branch).values("core"))
    )
    keys = KeySymbol.objects.filter(below | Q(kind=CONTROL), system=top.system)
    return Part(top, cores.order_by(*BY_PLACE), _in_order(keys))


def building_part(actor: User, building: Building, floor: Floor | None) -> Part:
    """The cores in its doors and every key that turns one or is planned to."""
    cores = visible_cores(actor).filter(housing__door__floor__building=building)
    if floor:
        cores = cores.filter(housing__door__floor=floor)
    return Part(floor or building, cores.order_by(*BY_PLACE), _keys_of(cores))


def door_part(actor: User, door: Door) -> Part:
    """The door's cores first, then those on its floor and those that its change keys turn elsewhere."""
    own = Core.objects.filter(housing__door=door)
    singles = KeySymbol.objects.filter(kind=KeySymbol.Kind.CHANGE).filter(
        Q(pk__in=Turn.objects.filter(core__in=own).values("symbol"))
        | Q(pk__in=Keying.objects.filter(core__in=own).values("symbol"))
    )
    # Each by a list of its own: side by side with a join, the database would go through every core.
    near = Q(pk__in=Core.objects.filter(housing__door__floor=door.floor_id).order_by().values("pk"))
    near |= Q(pk__in=Turn.objects.filter(symbol__in=singles).values("core"))
    cores = visible_cores(actor).filter(near, housing__isnull=False)
    here = Case(When(housing__door=door, then=Value(0)), default=Value(1))
    return Part(door, cores.order_by(here, *BY_PLACE), _keys_of(cores))


def chart_of(actor: User, part: Part, row_page: str | None, key_page: str | None) -> Chart:
    """One page of the part in both directions; the queries do not grow with it."""
    cores = Paginator(part.cores, CORES_ON_A_PAGE).get_page(row_page)
    keys = Paginator(part.keys, KEYS_ON_A_PAGE).get_page(key_page)
    symbols = list(keys)
    rows = _rows(part, list(cores), symbols)
    counted = Counter(cell.mark for row in rows for cell in row.cells if cell.mark)
    systems = {symbol.system_id for symbol in symbols}
    return Chart(
        rows=rows,
        keys=symbols,
        bands=[Band(words, len(list(group))) for words, group in groupby(symbols, key=_rank)],
        counts=[(mark, counted[mark]) for mark in Mark],
        row_page=cores,
        key_page=keys,
        linked=frozenset(visible_systems(actor).filter(pk__in=systems).values_list("pk", flat=True)),
    )


def _rows(part: Part, cores: list[Core], keys: list[KeySymbol]) -> list[Row]:
    planned = planned_keys(core.pk for core in cores)
    turns = Turn.objects.filter(core__in=cores, symbol__in=keys)
    found = {
        (core, key): (operates, withdraws)
        for core, key, operates, withdraws in turns.values_list("core", "symbol", "operates", "withdraws")
    }
    return [
        Row(
            core,
            tuple(_cell(core, key, planned[core.pk], found.get((core.pk, key.pk))) for key in keys),
            core.housing is not None and core.housing.door == part.thing,
        )
        for core in cores
    ]


def _cell(core: Core, key: KeySymbol, planned: dict[UUID, KeySymbol], turn: tuple[bool, bool] | None) -> Cell:
    is_planned = key.system_id == core.system_id if key.is_control else key.pk in planned
    mark = mark_of(key, is_planned=is_planned, is_pinned=core.is_pinned, turn=turn)
    return Cell(mark, f"{key}: {mark.label}" if mark else "")


def _keys_of(cores: QuerySet[Core]) -> QuerySet[KeySymbol]:
    """Keys that turn one of the cores, that are planned to, and the control keys of their systems."""
    bare = cores.order_by().values("pk")
    lines = Keying.objects.filter(core__in=bare).values_list(
        "symbol", *(f"symbol__{steps}" for steps in STEPS_UP)
    )
    planned = _distinct(lines.distinct())
    return _in_order(
        KeySymbol.objects.filter(
            Q(pk__in=planned)
            | Q(pk__in=Turn.objects.filter(core__in=bare).values("symbol"))
            | Q(kind=CONTROL, system__in=cores.order_by().values("system"))
        )
    )


def _distinct(lines: Iterable[tuple[UUID | None, ...]]) -> set[UUID]:
    return {key for line in lines for key in line if key is not None}


def _in_order(keys: QuerySet[KeySymbol]) -> QuerySet[KeySymbol]:
    """System by system, from the top keys down, keys under one master side by side; the control key last."""
    path = [f"{steps}__ordinal" for steps in reversed(STEPS_UP)]
    level = Coalesce(F("level"), Value(AFTER_ALL_LEVELS))
    return keys.select_related("system").order_by("system__code", level, *path, "ordinal", "symbol")


def _rank(symbol: KeySymbol) -> str:
    return _("{system}: {rank}").format(system=symbol.system.code, rank=_rank_words(symbol))


def _rank_words(symbol: KeySymbol) -> str:
    if symbol.is_master:
        return _("Top keys") if symbol.level == 0 else _("Masters, level {level}").format(level=symbol.level)
    return pgettext("keys of a system", "Control") if symbol.is_control else _("Change keys")
