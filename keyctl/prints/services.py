"""Printing secrets: history knows of the print before the vault opens."""

from typing import BinaryIO

from django.db import transaction
from django.template.loader import render_to_string

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import reveal_pinning
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.prints.pdf import render_pdf, require_printer
from keyctl.prints.sheets import pinning_sheet


def print_pinning_sheet(*, actor: User, order: WorkOrder) -> bytes:
    """The pinning sheet of an order as PDF: the stacks of its pinned cores, and which are not pinned yet."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    pinned, waiting = _cores_of(order)
    _record(actor, order, pinned)
    shown = [
        (core, reveal_pinning(actor=actor, core=core, reason=f"pinning sheet of order {order.number}"))
        for core in pinned
    ]
    sheet = pinning_sheet(order, actor, shown, waiting)
    return render_pdf(render_to_string("prints/pinning_sheet.html", {"sheet": sheet}))


def write_pinning_sheet(*, actor: User, order: WorkOrder, file: BinaryIO) -> None:
    file.write(print_pinning_sheet(actor=actor, order=order))


def _cores_of(order: WorkOrder) -> tuple[list[Core], list[Core]]:
    """The cores pinned for this order, and those that wait. A core's older pins are not this order's."""
    if order.kind != WorkOrder.Kind.PIN:
        raise Refused(f"{order} swaps cores and pins none; a pinning sheet belongs to an order to pin.")
    lines = order.lines.select_related("core__site").order_by("ordinal")
    pinned = [line.core for line in lines if line.core and line.state == OrderLine.State.DONE]
    waiting = [line.core for line in lines if line.core and line.state == OrderLine.State.OPEN]
    if not pinned:
        raise Refused(f"No core of {order} is pinned yet. Pin one in the order first; then print the sheet.")
    return pinned, waiting


@transaction.atomic
def _record(actor: User, order: WorkOrder, cores: list[Core]) -> None:
    noun = "core" if len(cores) == 1 else "cores"
    record(
        actor=actor,
        verb="order.sheet_printed",
        sentence=f"printed the pinning sheet of order {order.number}: {len(cores)} {noun}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "cores": [core.tag for core in cores]},
    )
