"""Which doors a locksmith goes to next: order by order, each by the next of its doors, as somebody walks."""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Case, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door
from keyctl.places.roles import Role
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import day_words, due_mark

Kind, State = WorkOrder.Kind, WorkOrder.State
AT_DOORS = (Kind.SWAP, Kind.INSPECT, Kind.LOCK_OUT)
MOVING = (State.OPEN, State.UNDER_WAY)
# Whoever has more orders than this in hand sees the most urgent of them in their order.
MOST_ORDERED = 200
OVERDUE, AFTER_LOSS, LOCK_OUT, USUAL, LATER = range(5)


def next_doors(morning: Morning) -> Block:
    """Given to the person or to nobody yet: what is late first, then what a loss or a lock-out asks for."""
    orders = orders_in_hand(morning, AT_DOORS)
    stops = sorted(_stops(orders, morning.today))
    shown = _lines(stop.line for stop in stops[:SHOWN])
    left = open_lines(line.order_id for line in shown)
    number = counted(orders)
    return Block(
        question=_("Which doors are next?"),
        lines=[_line(line, left[line.order_id], morning) for line in shown],
        empty=_("No door waits for you."),
        total=number if len(stops) >= MOST_ORDERED else len(stops),
        more=Act(_("All doors on my way"), reverse("orders:route")),
    )


def orders_in_hand(morning: Morning, kinds: Iterable[str]) -> QuerySet[WorkOrder]:
    """The person's own, and those that nobody has: the most urgent first."""
    orders = WorkOrder.objects.filter(
        Q(assigned_to=morning.actor) | Q(assigned_to=None),
        site__in=morning.at(Role.LOCKSMITH),
        state__in=MOVING,
        kind__in=list(kinds),
    )
    turn = Case(
        When(due_on__lt=morning.today, then=Value(OVERDUE)),
        When(case_order__isnull=False, then=Value(AFTER_LOSS)),
        When(kind=Kind.LOCK_OUT, then=Value(LOCK_OUT)),
        default=Value(USUAL),
        output_field=IntegerField(),
    )
    return orders.annotate(turn=turn).order_by("turn", F("due_on").asc(nulls_last=True), "number")


def open_lines(orders: Iterable[UUID]) -> Counter[UUID]:
    rows = OrderLine.objects.filter(order__in=list(orders), state=OrderLine.State.OPEN)
    return Counter(rows.values_list("order", flat=True))


class _Stop(NamedTuple):
    """One order at the next of its doors, in the order of the page: what presses, then the way."""

    urgency: int
    site: str
    building: str
    level: int
    number: str
    due_on: date
    order: int
    line: UUID


def _stops(orders: QuerySet[WorkOrder], today: date) -> Iterator[_Stop]:
    waiting = OrderLine.objects.filter(order=OuterRef("pk"), state=OrderLine.State.OPEN).order_by("ordinal")
    first = Subquery(waiting.values("pk")[:1])
    found = [pk for pk in orders.annotate(first=first).values_list("first", flat=True)[:MOST_ORDERED] if pk]
    facts = (
        "pk",
        "order__number",
        "order__due_on",
        "order__kind",
        "order__case_order",
        "shut_at",
        "lifted_at",
    )
    rows = OrderLine.objects.filter(pk__in=found).order_by()
    for row in rows.annotate(
        site=F("order__site__code"),
        building=Coalesce("housing__door__floor__building__code", "door__floor__building__code"),
        level=Coalesce("housing__door__floor__level", "door__floor__level"),
        door_number=Coalesce("housing__door__number", "door__number"),
        until=F("order__lock_out__until"),
    ).values(*facts, "site", "building", "level", "door_number", "until"):
        yield _Stop(
            _urgency(row, today),
            row["site"],
            row["building"],
            row["level"],
            row["door_number"],
            row["order__due_on"] or date.max,
            row["order__number"],
            row["pk"],
        )


def _urgency(row: dict[str, Any], today: date) -> int:
    if row["shut_at"] and not row["lifted_at"] and row["until"] and row["until"] > today:
        return LATER
    if row["order__due_on"] and row["order__due_on"] < today:
        return OVERDUE
    if row["order__case_order"]:
        return AFTER_LOSS
    return LOCK_OUT if row["order__kind"] == Kind.LOCK_OUT else USUAL


def _lines(wanted: Iterable[UUID]) -> list[OrderLine]:
    """In the order asked for."""
    pks = list(wanted)
    lines = OrderLine.objects.filter(pk__in=pks).select_related(
        "order__site",
        "order__case_order",
        "order__lock_out",
        "housing__door__floor__building__site",
        "door__floor__building__site",
        "core",
        "meant",
        "core_out",
    )
    found = lines.defer("core__pinning", "meant__pinning", "core_out__pinning").in_bulk(pks)
    return [found[pk] for pk in pks]


def _stays_shut(line: OrderLine, today: date) -> bool:
    """A door that is shut already is left alone until its day."""
    return line.is_shut and line.order.lock_out.until > today


def _door(line: OrderLine) -> Door:
    door = line.door_at
    if door is None:  # only orders at doors are asked for
        raise AssertionError(line)
    return door


def _line(line: OrderLine, left: int, morning: Morning) -> Line:
    door, order = _door(line), line.order
    told = [_("{building}, {floor}").format(building=door.building, floor=door.floor), *_about(line, left)]
    if order.assigned_to_id is None:
        told.append(_("nobody’s yet"))
    return Line(
        what=str(line.housing or door),
        url=reverse("cores:door", args=[door.pk]),
        about=" · ".join(told),
        mark=_mark(line, morning.today),
        act=_act(line, door),
    )


def _about(line: OrderLine, left: int) -> list[str]:
    order = line.order
    words = [f"{order}: {order.title}"]
    if core := line.core_out if line.is_shut else line.core or line.meant:
        words.append(_("bring core {core}").format(core=core))
    if left > 1:
        more = ngettext("{count} more door after it", "{count} more doors after it", left - 1)
        words.append(more.format(count=left - 1))
    return words


def _mark(line: OrderLine, today: date) -> Mark | None:
    order = line.order
    if _stays_shut(line, today):
        until = day_words(order.lock_out.until)
        return Mark(Tone.INFO, _("Stays shut until {day}").format(day=until))
    late = due_mark(order.due_on, today) if order.due_on else None
    if late and late.tone == Tone.BAD:
        return late
    if hasattr(order, "case_order"):
        return Mark(Tone.WARN, _("After a loss"))
    if order.kind == Kind.LOCK_OUT:
        return Mark(Tone.WARN, _("Lock-out"))
    if line.unreached_at:
        return Mark(Tone.WAIT, _("Not reached last time"))
    return late


def _act(line: OrderLine, door: Door) -> Act:
    if line.door_id or line.lifted_at:
        return Act(_("Check"), reverse("orders:check", args=[line.pk]), str(door))
    label = _("Swap")
    if line.keeps_shut:
        label = _("Open again") if line.is_shut else _("Shut")
    return Act(label, reverse("orders:swap", args=[line.pk]), str(line.housing))
