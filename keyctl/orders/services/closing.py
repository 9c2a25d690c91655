"""The end of an order, and the lock under which everybody works on it."""

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.roles import Role

WORKED_FIELDS = (
    "state",
    "core",
    "core_out",
    "operating_key_turned",
    "control_key_came_out",
    "egress_and_latch_tried",
    "note",
    "done_at",
    "done_by",
)


@transaction.atomic
def cancel_order(*, actor: User, order: WorkOrder) -> WorkOrder:
    return _cancelled(actor, locked_order(actor, order))


@transaction.atomic
def drop_order(*, actor: User | None, order: WorkOrder) -> WorkOrder:
    """The same for the apps above, where what the order was opened for has ended; closed ones stay so."""
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("site").get(pk=order.pk)
    return _cancelled(actor, order) if order.is_open else order


def _cancelled(actor: User | None, order: WorkOrder) -> WorkOrder:
    lines = OrderLine.objects.filter(order=order)
    waiting, total = lines.filter(state=OrderLine.State.OPEN), lines.count()
    dropped = waiting.update(state=OrderLine.State.CANCELLED)
    _close(order, WorkOrder.State.CANCELLED)
    record(
        actor=actor,
        verb="order.cancelled",
        sentence=f"cancelled order {order.number}; lines still open: {dropped} of {total}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "open": dropped, "lines": total},
    )
    return order


def locked_order(actor: User, order: WorkOrder) -> WorkOrder:
    """The order as it is now, held until the transaction ends; whoever comes second sees what was done."""
    rows = WorkOrder.objects.select_for_update(of=("self",)).select_related("site")
    order = rows.get(pk=order.pk)
    require_role(actor, order.site, Role.LOCKSMITH)
    if not order.is_open:
        raise Conflict(f"{order} is already {order.get_state_display().lower()}. Nothing was changed.")
    return order


def locked_line(actor: User, line: OrderLine, kind: WorkOrder.Kind) -> OrderLine:
    rows = OrderLine.objects.select_for_update(of=("self",)).select_related(
        "order__site", "core", "done_by", "housing__door__floor__building__site"
    )
    # The order first, then its line: everybody takes the two locks in this sequence.
    try:
        locked_order(actor, line.order)
    except Conflict as closed:
        raise _told_by_line(rows.get(pk=line.pk), closed) from None
    line = rows.get(pk=line.pk)
    if not line.is_open:
        raise _told_by_line(line, Conflict(f"{line} is no longer open. Nothing was changed."))
    if line.order.kind != kind:
        raise Refused(f"{line.order} is there to {line.order.get_kind_display().lower()}.")
    return line


def finish_line(actor: User, line: OrderLine) -> None:
    """Mark the line done; an order closes with its last open line."""
    line.state = OrderLine.State.DONE
    line.done_at, line.done_by = timezone.now(), actor
    line.save(update_fields=WORKED_FIELDS)
    close_when_worked(actor, line.order)


def close_when_worked(actor: User, order: WorkOrder) -> None:
    """An order ends with its last open line."""
    if order.lines.filter(state=OrderLine.State.OPEN).exists():
        return
    _close(order, WorkOrder.State.DONE)
    record(
        actor=actor,
        verb="order.done",
        sentence=f"finished order {order.number} with its last line",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number},
    )


def _told_by_line(line: OrderLine, otherwise: Conflict) -> Conflict:
    if line.done_by is None:
        return otherwise
    return Conflict(
        f"{line.done_by} was first and finished {line} at {timezone.localtime(line.done_at):%H:%M}. "
        "You changed nothing; look at the order again."
    )


def _close(order: WorkOrder, state: WorkOrder.State) -> None:
    order.state, order.closed_at = state, timezone.now()
    order.save(update_fields=["state", "closed_at"])
