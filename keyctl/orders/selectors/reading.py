"""Orders and their lines as pages show them."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Case, Count, IntegerField, Prefetch, Q, QuerySet, Value, When
from django.db.models.functions import Coalesce
from django.utils import timezone

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.orders.access import visible_orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing, Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at

# Somebody may be working behind these.
LOCKING_OUT = frozenset({Housing.Kind.PADLOCK, Housing.Kind.SWITCH})

# How a core leaves a housing, by the control its format has.
WAYS_OUT = {"sleeve": "control-key", "tip": "control-key", "screw": "screw"}


@dataclass(frozen=True)
class Swap:
    """One line of a swap order as the guided page shows it."""

    line: OrderLine
    housing: Housing
    core_now: Core | None
    core_in: Core | None

    @property
    def door(self) -> Door:
        return self.housing.door

    @property
    def way_out(self) -> str:
        """``control-key``, ``screw`` or ``fixed``: which words the page uses for taking a core out."""
        core = self.core_in or self.core_now
        control = engine.load_format(core.format_id).control if core else None
        return WAYS_OUT[control.kind] if control else "fixed"

    @property
    def can_lock_out(self) -> bool:
        return self.housing.kind in LOCKING_OUT


def orders_by_state(
    actor: User, *, state: str = "", kind: str = "", whose: str = "", due: str = ""
) -> QuerySet[WorkOrder]:
    """Those that are not finished first, then the newest number first, with how many lines are done."""
    orders = visible_orders(actor).select_related("assigned_to", "part_of")
    if state:
        wanted = WorkOrder.UNFINISHED if state == "unfinished" else (state,)
        orders = orders.filter(state__in=wanted)
    if kind:
        orders = orders.filter(kind=kind)
    if whose:
        orders = orders.filter(assigned_to=actor if whose == "mine" else None)
    if due:
        orders = _due(orders, due)
    return orders.annotate(
        line_count=Count("lines", distinct=True),
        done_count=Count("lines", filter=Q(lines__state=OrderLine.State.DONE), distinct=True),
        part_count=Count("parts", distinct=True),
        parts_done=Count("parts", filter=Q(parts__state=WorkOrder.State.DONE), distinct=True),
        turn=Case(
            When(state__in=WorkOrder.UNFINISHED, then=Value(0)), default=Value(1), output_field=IntegerField()
        ),
    ).order_by("turn", "-number")


def _due(orders: QuerySet[WorkOrder], due: str) -> QuerySet[WorkOrder]:
    """What is late, or to be done within a week; finished orders are neither."""
    today = timezone.localdate()
    until = today - timedelta(days=1) if due == "late" else today + timedelta(days=7)
    return orders.filter(state__in=WorkOrder.UNFINISHED, due_on__lte=until)


def lines_of(order: WorkOrder) -> QuerySet[OrderLine]:
    return (
        order.lines.select_related(
            "core__site",
            "core__carrier",
            "core__housing__door__floor__building",
            "core_out",
            "done_by",
            "meant",
        )
        .select_related("housing__door__floor__building__site", "symbol__system", "cabinet")
        .select_related("door__floor__building__site", "system")
        .prefetch_related(
            "copies",
            "checks",
            "follow_ups",
            "core__keyed_to",
            "meant__keyed_to",
            Prefetch("housing__cores", queryset=Core.objects.prefetch_related("keyed_to")),
        )
        .order_by("ordinal")
    )


def parts_of(order: WorkOrder) -> QuerySet[WorkOrder]:
    """The orders that make up an area, in their numbers, with how many of their lines are done."""
    return (
        order.parts.select_related("assigned_to")
        .annotate(
            line_count=Count("lines"),
            done_count=Count("lines", filter=Q(lines__state=OrderLine.State.DONE)),
        )
        .order_by("number")
    )


def swap_of(line: OrderLine) -> Swap:
    if line.housing is None:
        raise ValueError("The line belongs to no swap.")
    goes_in = line.core_out if line.is_shut else line.core
    return Swap(line, line.housing, line.housing.cores.first(), goes_in)


def round_lines(order: WorkOrder) -> QuerySet[OrderLine]:
    """The open doors of a swap order in the order of their floors, with the core that goes in."""
    return (
        order.lines.filter(state=OrderLine.State.OPEN, housing__isnull=False)
        .select_related("core__carrier", "meant__carrier", "housing__door__floor__building__site")
        .prefetch_related("core__keyed_to", "meant__keyed_to", "housing__cores")
        .order_by("ordinal")
    )


def next_line(line: OrderLine) -> OrderLine | None:
    """The next door of the same order."""
    waiting = OrderLine.objects.filter(order_id=line.order_id, state=OrderLine.State.OPEN).exclude(pk=line.pk)
    return waiting.select_related("housing__door__floor__building__site").order_by("ordinal").first()


def open_swap_at(door: Door) -> OrderLine | None:
    lines = OrderLine.objects.filter(housing__door=door, state=OrderLine.State.OPEN)
    return lines.select_related("order", "housing__door__floor__building__site").first()


def lines_at_doors(actor: User, *, mine: bool) -> QuerySet[OrderLine]:
    """What is open at doors, as somebody goes: building by building, floor by floor, door by door."""
    sites = Site.objects.for_roles(actor, Role.LOCKSMITH)
    lines = OrderLine.objects.filter(
        Q(housing__isnull=False) | Q(door__isnull=False),
        state=OrderLine.State.OPEN,
        order__site__in=sites,
        order__state__in=(WorkOrder.State.OPEN, WorkOrder.State.UNDER_WAY),
    )
    if mine:
        lines = lines.filter(order__assigned_to=actor)
    return (
        lines.select_related("order__site", "core", "meant", "core_out")
        .select_related("housing__door__floor__building__site", "door__floor__building__site")
        .order_by(
            "order__site__code",
            Coalesce("housing__door__floor__building__code", "door__floor__building__code"),
            Coalesce("housing__door__floor__level", "door__floor__level"),
            Coalesce("housing__door__number", "door__number"),
            "order__due_on",
            "order__number",
        )
    )


def smiths_of(site: Site) -> QuerySet[User]:
    """Whom work at a site may be given to."""
    return people_at(site, Role.LOCKSMITH)
