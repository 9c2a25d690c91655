"""What the pages about rotations show."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.orders.models import OrderLine
from keyctl.rotations.access import visible_rotations
from keyctl.rotations.crews import Crew, ends
from keyctl.rotations.keyed import keyed_and_pinned, new_keys
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave

Door = RotationDoor.State
ROUTE = (
    "housing__door__floor__building__code",
    "housing__door__floor__level",
    "housing__door__number",
    "pk",
)


@dataclass(frozen=True)
class WaveRow:
    """``ends_on`` is an estimate for what is not done."""

    wave: Wave
    doors: int
    done: int
    unreached: int
    visits: int
    days: float
    ends_on: date | None

    @property
    def left(self) -> int:
        return self.doors - self.done

    @property
    def whole_days(self) -> str:
        return f"{self.days:.1f}".rstrip("0").rstrip(".") or "0"


@dataclass(frozen=True)
class Progress:
    """Doors and cores counted by state; ``pinned`` are doors whose core is pinned for them and waits."""

    doors: Counter[str]
    pinned: int
    cores: Counter[str]
    waves: tuple[WaveRow, ...]
    without_wave: int
    short_of: dict[str, int]

    @property
    def total(self) -> int:
        return self.doors.total()

    @property
    def done(self) -> int:
        return self.doors[Door.SWAPPED]

    @property
    def to_do(self) -> int:
        return self.doors[Door.WAITING] + self.doors[Door.UNREACHED]

    @property
    def left_out(self) -> int:
        return self.doors[Door.LEFT_OUT]

    @property
    def begun(self) -> WaveRow | None:
        return next((row for row in self.waves if row.wave.state == Wave.State.BEGUN), None)

    @property
    def next(self) -> WaveRow | None:
        return next((row for row in self.waves if row.wave.state == Wave.State.PLANNED), None)

    @property
    def ends_on(self) -> date | None:
        return self.waves[-1].ends_on if self.waves else None

    @property
    def needs_plan(self) -> bool:
        return bool(self.to_do) and bool(self.without_wave or self.short_of or not self.waves)

    @property
    def going_round(self) -> int:
        return sum(self.cores[state] for state in RotationCore.GOING_ROUND)

    @property
    def visits_done(self) -> int:
        return sum(row.visits for row in self.waves if row.wave.state == Wave.State.DONE)

    @property
    def visits(self) -> int:
        return sum(row.visits for row in self.waves)


def rotations_by_state(actor: User) -> QuerySet[Rotation]:
    """Those that run first, then the newest number first."""
    done, left_out = Q(doors__state=Door.SWAPPED), Q(doors__state=Door.LEFT_OUT)
    running = When(state__in=Rotation.RUNNING, then=Value(0))
    return (
        visible_rotations(actor)
        .annotate(
            door_count=Count("doors"),
            done_count=Count("doors", filter=done),
            left_out_count=Count("doors", filter=left_out),
            turn=Case(running, default=Value(1), output_field=IntegerField()),
        )
        .order_by("turn", "-number")
    )


def progress_of(rotation: Rotation) -> Progress:
    doors = list(rotation.doors.values_list("state", "wave", "format_id", "housing__door__floor__building"))
    waves = list(rotation.waves.select_related("pin_order", "swap_order").order_by("ordinal"))
    to_do = [row for row in doors if row[0] in RotationDoor.TO_DO]
    return Progress(
        doors=Counter(row[0] for row in doors),
        pinned=_pinned(rotation),
        cores=Counter(rotation.cores.values_list("state", flat=True)),
        waves=_wave_rows(rotation, waves, doors),
        without_wave=sum(row[1] is None for row in to_do),
        short_of=_short_of(rotation, waves, to_do),
    )


def _pinned(rotation: Rotation) -> int:
    """Doors to do whose core is pinned for their keys."""
    waiting = list(rotation.doors.to_do().filter(meant__isnull=False).select_related("meant"))
    keys = new_keys(waiting)
    ready = keyed_and_pinned([door.meant for door in waiting if door.meant])
    return sum(
        ready.get(door.meant.pk) == frozenset(key.pk for key in keys[door.pk])
        for door in waiting
        if door.meant
    )


def _wave_rows(
    rotation: Rotation, waves: Sequence[Wave], doors: Sequence[tuple[str, UUID | None, str, UUID]]
) -> tuple[WaveRow, ...]:
    crew, found = Crew.of(rotation), []
    for wave in waves:
        mine = [row for row in doors if row[1] == wave.pk]
        states = Counter(row[0] for row in mine)
        visits = len({row[3] for row in mine})
        done = states[Door.SWAPPED] + states[Door.LEFT_OUT]
        days = crew.days(len(mine), visits) if mine else 0.0
        found.append(WaveRow(wave, len(mine), done, states[Door.UNREACHED], visits, days, None))
    return _dated(found)


def _dated(rows: Sequence[WaveRow]) -> tuple[WaveRow, ...]:
    """From today on for what is still to do; a wave under way takes the share that is left of it."""
    left = [_days_left(row) for row in rows]
    days = ends(timezone.localdate(), left)
    return tuple(
        WaveRow(row.wave, row.doors, row.done, row.unreached, row.visits, row.days, _end(row, day))
        for row, day in zip(rows, days, strict=True)
    )


def _end(row: WaveRow, estimate: date) -> date:
    done_at = row.wave.done_at
    return timezone.localdate(done_at) if done_at else estimate


def _days_left(row: WaveRow) -> float:
    if row.wave.state == Wave.State.DONE or not row.doors:
        return 0.0
    return row.days * row.left / row.doors


def _short_of(
    rotation: Rotation, waves: Sequence[Wave], to_do: Sequence[tuple[str, UUID | None, str, UUID]]
) -> dict[str, int]:
    """By format, how many cores are missing for the largest wave to come."""
    planned = {wave.pk for wave in waves if wave.state == Wave.State.PLANNED}
    largest: Counter[str] = Counter()
    for (_, name), count in Counter((row[1], row[2]) for row in to_do if row[1] in planned).items():
        largest[name] = max(largest[name], count)
    rows = rotation.cores.filter(state__in=RotationCore.GOING_ROUND)
    there = Counter(rows.values_list("core__format_id", flat=True))
    return {name: count - there[name] for name, count in largest.items() if count > there[name]}


def doors_of(
    rotation: Rotation, *, state: str = "", wave: str = "", text: str = ""
) -> QuerySet[RotationDoor]:
    """In the order of a route."""
    doors = rotation.doors.with_places().prefetch_related("keys__old", "keys__new")
    if state:
        doors = doors.filter(state=state)
    if wave.isdecimal():
        doors = doors.filter(wave__ordinal=int(wave))
    if text:
        doors = doors.filter(
            Q(housing__door__number__icontains=text)
            | Q(housing__door__name__icontains=text)
            | Q(housing__door__floor__building__name__icontains=text)
            | Q(housing__door__floor__building__code__iexact=text)
        )
    return doors.order_by("wave__ordinal", *ROUTE)


def cores_of(rotation: Rotation, *, state: str = "") -> QuerySet[RotationCore]:
    """Those to bring back first, then those that go round; where each is."""
    order = {RotationCore.State.COMING_BACK: 0, RotationCore.State.SET_ASIDE: 1, RotationCore.State.FREE: 2}
    turn = Case(
        *(When(state=name, then=Value(place)) for name, place in order.items()),
        default=Value(3),
        output_field=IntegerField(),
    )
    rows = rotation.cores.select_related(
        "core__site",
        "core__carrier",
        "core__housing__door__floor__building__site",
        "came_from__housing__door__floor__building__site",
    )
    if state:
        rows = rows.filter(state=state)
    return rows.annotate(turn=turn).order_by("turn", "core__tag")


def open_line_of(door: RotationDoor) -> OrderLine | None:
    """The line at which the door waits, in its wave's order."""
    if door.wave is None or door.wave.swap_order_id is None:
        return None
    lines = OrderLine.objects.filter(order=door.wave.swap_order_id, housing=door.housing_id)
    return lines.filter(state=OrderLine.State.OPEN).select_related("order").first()


def lines_to_do(wave: Wave) -> tuple[int, int]:
    """Cores to pin or to try at the bench, and doors to swap, that wait in the orders of a wave."""
    is_open = Q(state=OrderLine.State.OPEN)
    untried = Q(state=OrderLine.State.DONE, trying__in=(OrderLine.Trying.OWED, OrderLine.Trying.WRONG))
    to_pin = OrderLine.objects.filter(is_open | untried, order=wave.pin_order_id)
    return to_pin.count(), OrderLine.objects.filter(is_open, order=wave.swap_order_id).count()
