"""The end of an order, and the lock under which everybody works on it."""

from collections.abc import Sequence

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.states import STEPS, Act, why_not
from keyctl.places.access import require_role
from keyctl.places.roles import Role

WORKED_FIELDS = (
    "state",
    "core",
    "core_out",
    "operating_key_turned",
    "control_key_came_out",
    "egress_and_latch_tried",
    "trying",
    "note",
    "done_at",
    "done_by",
)


@transaction.atomic
def cancel_order(*, actor: User, order: WorkOrder) -> WorkOrder:
    """With the order of an area go its parts."""
    parts = _locked_parts(order)
    order = locked_order(actor, order)
    refuse_unless(order, Act.CANCEL)
    return _cancelled_with(actor, order, parts)


@transaction.atomic
def drop_order(*, actor: User | None, order: WorkOrder) -> WorkOrder:
    """The same for the apps above, where what the order was opened for has ended; closed ones stay so."""
    parts = _locked_parts(order)
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("site").get(pk=order.pk)
    return _cancelled_with(actor, order, parts) if order.is_open else order


def _cancelled_with(actor: User | None, order: WorkOrder, parts: Sequence[WorkOrder]) -> WorkOrder:
    if order.parts.unfinished().exclude(pk__in=[part.pk for part in parts]).exists():
        raise Conflict(
            _("A part of {order} was written meanwhile. Nothing was cancelled; look again.").format(
                order=order
            )
        )
    for part in parts:
        _cancelled(actor, part)
    order = _cancelled(actor, order)
    if order.part_of_id:
        close_area(actor, order)
    return order


def _locked_parts(order: WorkOrder) -> list[WorkOrder]:
    """Parts are locked before their area, as where one of them closes it."""
    parts = WorkOrder.objects.select_for_update(of=("self",)).filter(part_of=order)
    return [part for part in parts.select_related("site").order_by("pk") if part.is_open]


def _cancelled(actor: User | None, order: WorkOrder) -> WorkOrder:
    lines = OrderLine.objects.filter(order=order)
    waiting, total = lines.filter(state=OrderLine.State.OPEN), lines.count()
    _refuse_while_shut(order, waiting)
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


def _refuse_while_shut(order: WorkOrder, lines: QuerySet[OrderLine]) -> None:
    shut = lines.filter(shut_at__isnull=False, lifted_at__isnull=True)
    if doors := [str(line.housing) for line in shut.select_related("housing__door__floor__building__site")]:
        raise Refused(
            _("{order} is not cancelled: doors are still kept shut. Put their own cores back first.").format(
                order=order
            ),
            reasons=doors,
        )


def locked_order(actor: User, order: WorkOrder) -> WorkOrder:
    """The order as it is now, held until the transaction ends; whoever comes second sees what was done."""
    rows = WorkOrder.objects.select_for_update(of=("self",)).select_related("site")
    order = rows.get(pk=order.pk)
    require_role(actor, order.site, Role.LOCKSMITH)
    if not order.is_open:
        raise Conflict(
            _("{order} is already {value}. Nothing was changed.").format(
                order=order, value=in_sentence(order.get_state_display())
            )
        )
    return order


def locked_line(actor: User, line: OrderLine, *kinds: WorkOrder.Kind) -> OrderLine:
    """The line as it is now, held like its order, which is under way from now on."""
    rows = OrderLine.objects.select_for_update(of=("self",)).select_related(
        "order__site",
        "core",
        "core_out",
        "done_by",
        "system",
        "housing__door__floor__building__site",
        "door__floor__building__site",
    )
    # The order first, then its line: everybody takes the two locks in this sequence.
    try:
        mark_worked(locked_order(actor, line.order))
    except Conflict as closed:
        raise _told_by_line(rows.get(pk=line.pk), closed) from None
    line = rows.get(pk=line.pk)
    if not line.is_open:
        raise _told_by_line(
            line, Conflict(_("{line} is no longer open. Nothing was changed.").format(line=line))
        )
    if line.order.kind not in kinds:
        raise Refused(
            _("{order} is there to {value}.").format(
                order=line.order, value=in_sentence(line.order.get_kind_display())
            )
        )
    return line


def finish_line(actor: User, line: OrderLine) -> None:
    """Mark the line done; an order closes with its last open line."""
    line.state = OrderLine.State.DONE
    line.done_at, line.done_by = timezone.now(), actor
    line.save(update_fields=WORKED_FIELDS)
    close_when_worked(actor, line.order)


def close_when_worked(actor: User | None, order: WorkOrder) -> None:
    """An order ends with its last open line."""
    if order.lines.filter(state=OrderLine.State.OPEN).exists():
        return
    refuse_unless(order, Act.FINISH)
    _close(order, WorkOrder.State.DONE)
    _tell_done(actor, order, f"finished order {order.number} with its last line")
    if order.part_of_id:
        close_area(actor, order)


def close_area(actor: User | None, order: WorkOrder) -> None:
    """The order of an area ends with its last part; it was worked if one of them was.

    ``order`` is a part that has just closed, or the area itself.
    """
    wanted = order.part_of_id or order.pk
    area = WorkOrder.objects.select_for_update(of=("self",)).get(pk=wanted)
    if not area.is_open or area.more_to_come or area.parts.unfinished().exists():
        return
    if area.parts.filter(state=WorkOrder.State.DONE).exists():
        _close(area, WorkOrder.State.DONE)
        _tell_done(actor, area, f"finished order {area.number} with its last part")
    else:
        _cancelled(actor, area)


def mark_worked(order: WorkOrder) -> None:
    """Work on a line of a locked order sets it going, and its area."""
    refuse_unless(order, Act.WORK)
    if order.state == WorkOrder.State.UNDER_WAY:
        return
    order.state, order.waits_for = WorkOrder.State.UNDER_WAY, ""
    order.save(update_fields=["state", "waits_for"])
    if order.part_of_id:
        areas = WorkOrder.objects.filter(pk=order.part_of_id, state=WorkOrder.State.OPEN)
        areas.update(state=WorkOrder.State.UNDER_WAY)


def refuse_unless(order: WorkOrder, act: Act) -> WorkOrder.State:
    """The state that the act leads to; refused where it leads nowhere."""
    step = STEPS.get((WorkOrder.State(order.state), act))
    if step is None:
        raise Conflict(f"{order} {why_not(order.state, act)}")
    return step[0]


def _tell_done(actor: User | None, order: WorkOrder, sentence: str) -> None:
    record(
        actor=actor,
        verb="order.done",
        sentence=sentence,
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number},
    )


def _told_by_line(line: OrderLine, otherwise: Conflict) -> Conflict:
    if line.done_by is None:
        return otherwise
    return Conflict(
        _(
            "{done_by} was first and finished {line} at {localtime:%H:%M}. You changed nothing; look at "
            "the order again."
        ).format(done_by=line.done_by, line=line, localtime=timezone.localtime(line.done_at))
    )


def _close(order: WorkOrder, state: WorkOrder.State) -> None:
    order.state, order.closed_at = state, timezone.now()
    order.waits_for, order.more_to_come = "", False
    order.save(update_fields=["state", "closed_at", "waits_for", "more_to_come"])
