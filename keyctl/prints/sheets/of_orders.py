"""What a sheet for the bench says of its order: the head, and which cores it is about."""

from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.prints.frame import Head, Secrecy, new_number, now


def head_of(actor: User, order: WorkOrder, kind: str) -> Head:
    """Of a sheet for the bench."""
    return Head(
        kind=kind,
        title=gettext("Order {number}: {title}").format(number=order.number, title=order.title),
        made_by=str(actor),
        made_at=now(),
        secrecy=Secrecy.BITTINGS,
        site=str(order.site),
        number=new_number(),
    )


def cores_of(order: WorkOrder) -> tuple[list[Core], list[Core]]:
    """The cores pinned for this order, and those that wait. A core's older pins are not this order's, nor are
    those that it got since."""
    if order.kind != WorkOrder.Kind.PIN:
        work = in_sentence(order.get_kind_display())
        raise Refused(
            gettext("{order} is there to {work}; a pinning sheet belongs to an order to pin cores.").format(
                order=order, work=work
            )
        )
    lines = order.lines.select_related("core__site").order_by("ordinal")
    pinned = [line.core for line in lines if line.core and _holds_its_pins(line, line.core)]
    waiting = [line.core for line in lines if line.core and line.state == OrderLine.State.OPEN]
    if not pinned:
        raise Refused(
            gettext(
                "No core of {order} is pinned yet. Pin one in the order first; then print the sheet."
            ).format(order=order)
        )
    return pinned, waiting


def _holds_its_pins(line: OrderLine, core: Core) -> bool:
    if line.done_at is None or core.pinned_at is None:
        return False
    return core.pinned_at <= line.done_at
