"""Orders written by another act (the plan after a loss), whose own service has asked for its role."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.closing import close_when_worked
from keyctl.orders.services.opening import numbered_order, record_opened
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol

Kind = WorkOrder.Kind


def write_pin_order(
    *,
    actor: User,
    site: Site,
    title: str,
    cores: Sequence[Core],
    due_on: date | None = None,
    part_of: WorkOrder | None = None,
) -> WorkOrder:
    set_aside = OrderLine.objects.filter(core__in=cores)
    # A door that it was set aside for gets another core; the door itself goes on waiting.
    of_doors = set_aside.filter(housing__isnull=False, shut_at__isnull=True)
    of_doors.filter(state=OrderLine.State.OPEN).update(core=None)
    _take_over(actor, set_aside.filter(housing__isnull=True), title)
    order = _numbered(part_of, opened_by=actor, site=site, kind=Kind.PIN, title=title, due_on=due_on)
    _write(OrderLine(order=order, ordinal=nth, core=core) for nth, core in enumerate(cores, 1))
    record_opened(actor, order, f"to pin {_counted(len(cores), 'core')}", cores)
    return order


def write_swap_order(
    *,
    actor: User,
    site: Site,
    title: str,
    meant: Mapping[Housing, Core],
    due_on: date | None = None,
    part_of: WorkOrder | None = None,
) -> WorkOrder:
    """``meant`` says which core was made for which housing; a swap that waits there already gives way."""
    _take_over(actor, OrderLine.objects.filter(housing__in=meant, keeps_shut=False), title)
    order = _numbered(part_of, opened_by=actor, site=site, kind=Kind.SWAP, title=title, due_on=due_on)
    _write(
        OrderLine(order=order, ordinal=nth, housing=housing, meant=core)
        for nth, (housing, core) in enumerate(meant.items(), 1)
    )
    doors = [housing.door for housing in meant]
    record_opened(actor, order, f"to swap {_counted(len(meant), 'core')}", [*meant, *doors])
    return order


def write_cut_order(
    *,
    actor: User,
    site: Site,
    title: str,
    counts: Sequence[tuple[KeySymbol, int]],
    cabinet: Cabinet,
    due_on: date | None = None,
    part_of: WorkOrder | None = None,
) -> WorkOrder:
    order = _numbered(part_of, opened_by=actor, site=site, kind=Kind.CUT, title=title, due_on=due_on)
    _write(
        OrderLine(order=order, ordinal=nth, symbol=symbol, count=count, cabinet=cabinet)
        for nth, (symbol, count) in enumerate(counts, 1)
    )
    total = sum(count for _, count in counts)
    record_opened(actor, order, f"to cut {total} copies", [symbol for symbol, _ in counts])
    return order


def _numbered(part_of: WorkOrder | None, **facts: Any) -> WorkOrder:
    """Whoever does the area does its parts."""
    return numbered_order(part_of=part_of, assigned_to=part_of.assigned_to if part_of else None, **facts)


def _write(lines: Iterable[OrderLine]) -> None:
    OrderLine.objects.bulk_create(lines, batch_size=500)


def _take_over(actor: User, lines: QuerySet[OrderLine], by: str) -> None:
    """What waits in another order would be worked twice, or with a core that is no longer wanted."""
    open_lines = lines.filter(state=OrderLine.State.OPEN)
    wanted = set(open_lines.values_list("order", flat=True))
    for order in WorkOrder.objects.select_for_update(of=("self",)).filter(pk__in=wanted).order_by("pk"):
        number = open_lines.filter(order=order).update(
            state=OrderLine.State.CANCELLED, note=f"Taken over: {by}"[:400]
        )
        record(
            actor=actor,
            verb="order.lines_taken_over",
            sentence=f"took over {_counted(number, 'line')} of order {order.number}: {by}",
            site_id=order.site_id,
            subjects=[order],
            detail={"number": order.number, "lines": number},
        )
        close_when_worked(actor, order)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
