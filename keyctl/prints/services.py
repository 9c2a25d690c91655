"""Printing secrets: history knows of the print before the vault opens."""

from dataclasses import replace

from django.db import transaction
from django.utils.translation import gettext

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
from keyctl.prints.frame import Composed, compose
from keyctl.prints.pdf import require_printer
from keyctl.prints.press.blocks import loose
from keyctl.prints.sheets.core_blocks import core_block
from keyctl.prints.sheets.cutting import cutting_list
from keyctl.prints.sheets.of_orders import cores_of, head_of
from keyctl.prints.sheets.stacks import pinning_sheet
from keyctl.reveals.services import reveal
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol


def print_pinning_sheet(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> bytes:
    return compose_pinning_sheet(actor=actor, order=order, sign_in=sign_in).pdf()


def compose_pinning_sheet(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> Composed:
    """The pinning sheet of an order: the stacks of its pinned cores, and which are not pinned yet."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    pinned, waiting = cores_of(order)
    head = head_of(actor, order, gettext("Pinning sheet"))

    def wanted() -> list[Secret[engine.Pinning]]:
        _record(actor, order, pinned, head.number)
        return [pins_to_show(core) for core in pinned]

    stacks = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    sheet = pinning_sheet(list(zip(pinned, stacks, strict=True)), waiting)
    areas = {"cores": loose(map(core_block, sheet.cores))}
    return compose("prints/pinning_sheet.html", head, areas=areas, sheet=sheet)


def compose_cutting_list(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> Composed:
    """The cutting list of an order: the cuts of the keys that are still to be cut. A master on it
    wants its own permission."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    waiting = _keys_of(order)
    head = replace(
        head_of(actor, order, gettext("Cutting list")),
        title=gettext("Order {number}").format(number=order.number),
        site="",
    )

    def wanted() -> list[Secret[str]]:
        _record_list(actor, order, len(waiting), head.number)
        return [cuts_to_show(symbol) for _, symbol in waiting]

    cuts = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    shown = [(line, symbol, cut) for (line, symbol), cut in zip(waiting, cuts, strict=True)]
    return compose("prints/cutting_list.html", head, sheet=cutting_list(shown))


@transaction.atomic
def _record(actor: User, order: WorkOrder, cores: list[Core], number: str) -> None:
    noun = "core" if len(cores) == 1 else "cores"
    record(
        actor=actor,
        verb="order.sheet_printed",
        sentence=f"printed the pinning sheet of order {order.number}: {len(cores)} {noun}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "print": number, "cores": [core.tag for core in cores]},
    )


def _keys_of(order: WorkOrder) -> list[tuple[OrderLine, KeySymbol]]:
    """The keys that wait to be cut; what is cut already needs no paper any more."""
    if order.kind != WorkOrder.Kind.CUT:
        raise Refused(
            gettext("{order} cuts no keys; a cutting list belongs to an order to cut.").format(order=order)
        )
    lines = order.lines.select_related("symbol__system").filter(state=OrderLine.State.OPEN)
    if found := [(line, line.symbol) for line in lines.order_by("ordinal") if line.symbol]:
        return found
    raise Refused(
        gettext("No line of {order} waits to be cut. There is nothing to print.").format(order=order)
    )


@transaction.atomic
def _record_list(actor: User, order: WorkOrder, count: int, number: str) -> None:
    noun = "key" if count == 1 else "keys"
    record(
        actor=actor,
        verb="order.cutting_list_printed",
        sentence=f"printed the cutting list of order {order.number}: {count} {noun}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "print": number, "keys": count},
    )
