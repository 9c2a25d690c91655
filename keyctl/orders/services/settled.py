"""Swaps that the register did not take as they were told: once a person has settled what is where, they end.

Inside an act whose own service has asked for its role; the checks are those that were told from the door.
"""

from collections.abc import Collection
from uuid import UUID

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.holding import hold
from keyctl.lib.language import in_english
from keyctl.orders.listening import tell_swapped
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.closing import finish_line, mark_worked
from keyctl.orders.services.locking_out import mark_lifted, tell_door
from keyctl.orders.services.opening import why_not_in_two_lines


def hold_lines(lines: Collection[UUID]) -> None:
    """Orders, then lines, before what is in their doors: as everybody takes them."""
    if lines:
        hold(WorkOrder.objects.filter(pk__in=OrderLine.objects.filter(pk__in=lines).values("order")))
        hold(OrderLine.objects.filter(pk__in=lines))


@transaction.atomic
def finish_settled_swap(
    *, actor: User, line: UUID, core_in: Core, core_out: Core | None, note: str
) -> OrderLine | None:
    """The line, where it was open and the core is in its housing now; None where it stays as it was."""
    rows = OrderLine.objects.select_related("order__site", "core", "housing__door__floor__building__site")
    found = rows.filter(pk=line, state=OrderLine.State.OPEN, housing=core_in.housing_id).first()
    if found is None or found.housing is None or not found.order.is_open:
        return None
    if found.keeps_shut:
        return _lifted(actor, found, core_in)
    if why_not_in_two_lines(core_in, besides=found):
        return None
    mark_worked(found.order)
    found.core, found.core_out, found.note = core_in, core_out, note[:400]
    found.operating_key_turned = found.control_key_came_out = found.egress_and_latch_tried = True
    where = in_english(found.housing)
    told = f"took the swap of core {core_in} in {where} as done, order {found.order.number}: {note}"
    tell_door(actor, found, "order.swap_settled", told[:400])
    finish_line(actor, found)
    tell_swapped(actor, found)
    return found


def _lifted(actor: User, line: OrderLine, core_in: Core) -> OrderLine | None:
    if not line.is_shut or core_in.pk != line.core_out_id:
        return None
    mark_worked(line.order)
    mark_lifted(actor, line)
    return line
