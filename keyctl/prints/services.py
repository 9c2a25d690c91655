"""Printing secrets: history knows of the print before the vault opens."""

from typing import BinaryIO

from django.db import transaction
from django.template.loader import render_to_string

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import pins_to_show
from keyctl.keys.reveal import cuts_to_show
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.prints.cutting import cutting_list
from keyctl.prints.pdf import render_pdf, require_printer
from keyctl.prints.sheets import pinning_sheet
from keyctl.reveals.services import reveal
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol


def print_pinning_sheet(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> bytes:
    """The pinning sheet of an order as PDF: the stacks of its pinned cores, and which are not pinned yet."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    pinned, waiting = cores_of(order)

    def wanted() -> list[Secret[engine.Pinning]]:
        _record(actor, order, pinned)
        return [pins_to_show(core) for core in pinned]

    stacks = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    sheet = pinning_sheet(order, actor, list(zip(pinned, stacks, strict=True)), waiting)
    return render_pdf(render_to_string("prints/pinning_sheet.html", {"sheet": sheet}))


def write_pinning_sheet(*, actor: User, order: WorkOrder, sign_in: FreshSignIn, file: BinaryIO) -> None:
    file.write(print_pinning_sheet(actor=actor, order=order, sign_in=sign_in))


def print_cutting_list(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> bytes:
    """The cutting list of an order as PDF: the cuts of the keys that are still to be cut. A master on it
    wants its own permission."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    waiting = _keys_of(order)

    def wanted() -> list[Secret[str]]:
        _record_list(actor, order, len(waiting))
        return [cuts_to_show(symbol) for _, symbol in waiting]

    cuts = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    shown = [(line, symbol, cut) for (line, symbol), cut in zip(waiting, cuts, strict=True)]
    sheet = cutting_list(order, actor, shown)
    return render_pdf(render_to_string("prints/cutting_list.html", {"sheet": sheet}))


def cores_of(order: WorkOrder) -> tuple[list[Core], list[Core]]:
    """The cores pinned for this order, and those that wait. A core's older pins are not this order's, nor are
    those that it got since."""
    if order.kind != WorkOrder.Kind.PIN:
        work = order.get_kind_display().lower()
        raise Refused(f"{order} is there to {work}; a pinning sheet belongs to an order to pin cores.")
    lines = order.lines.select_related("core__site").order_by("ordinal")
    pinned = [line.core for line in lines if line.core and _holds_its_pins(line, line.core)]
    waiting = [line.core for line in lines if line.core and line.state == OrderLine.State.OPEN]
    if not pinned:
        raise Refused(f"No core of {order} is pinned yet. Pin one in the order first; then print the sheet.")
    return pinned, waiting


def _holds_its_pins(line: OrderLine, core: Core) -> bool:
    if line.done_at is None or core.pinned_at is None:
        return False
    return core.pinned_at <= line.done_at


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


def _keys_of(order: WorkOrder) -> list[tuple[OrderLine, KeySymbol]]:
    """The keys that wait to be cut; what is cut already needs no paper any more."""
    if order.kind != WorkOrder.Kind.CUT:
        raise Refused(f"{order} cuts no keys; a cutting list belongs to an order to cut.")
    lines = order.lines.select_related("symbol__system").filter(state=OrderLine.State.OPEN)
    if found := [(line, line.symbol) for line in lines.order_by("ordinal") if line.symbol]:
        return found
    raise Refused(f"No line of {order} waits to be cut. There is nothing to print.")


@transaction.atomic
def _record_list(actor: User, order: WorkOrder, count: int) -> None:
    noun = "key" if count == 1 else "keys"
    record(
        actor=actor,
        verb="order.cutting_list_printed",
        sentence=f"printed the cutting list of order {order.number}: {count} {noun}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "keys": count},
    )
