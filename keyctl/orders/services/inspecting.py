"""Orders to look doors over, and the work that what is bad asks for."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import Check, OrderLine, WorkOrder
from keyctl.orders.services.opening import (
    OPENERS,
    add_lines,
    counted,
    numbered_order,
    open_swap_order,
    record_opened,
    refuse_unless_ready,
)
from keyctl.places.access import require_role
from keyctl.places.models import Door, Site
from keyctl.places.roles import Role

Kind = WorkOrder.Kind


@transaction.atomic
def open_inspect_order(
    *, actor: User, site: Site, title: str, doors: Iterable[Door], due_on: date | None = None
) -> WorkOrder:
    """A line for each door, in the order they were given."""
    require_role(actor, site, *OPENERS)
    wanted = list({door.pk: door for door in doors}.values())
    refuse_unless_ready(len(wanted), "door", [_why_not_at(door, site) for door in wanted])
    order = numbered_order(opened_by=actor, site=site, kind=Kind.INSPECT, title=title, due_on=due_on)
    add_lines(OrderLine(order=order, ordinal=nth, door=door) for nth, door in enumerate(wanted, 1))
    record_opened(actor, order, f"to inspect {counted(wanted, 'door')}", wanted)
    return order


@transaction.atomic
def open_follow_up(*, actor: User, line: OrderLine, kind: str) -> WorkOrder:
    """The work that a bad point asks for: other cores, or another look once somebody mended it."""
    require_role(actor, line.order.site, Role.LOCKSMITH)
    door = line.door_at
    if door is None or not line.checks.filter(found=Check.Found.BAD).exists():
        raise Refused(
            _("Nothing bad was found on {line}. Open an order by itself if the door needs work.").format(
                line=line
            )
        )
    after = _("After {order}: {door}").format(order=in_sentence(line.order), door=door)
    title = after[:160]
    if kind == Kind.SWAP:
        order = open_swap_order(
            actor=actor, site=line.order.site, title=title, housings=door.housings.order_by("kind", "label")
        )
    elif kind == Kind.INSPECT:
        order = open_inspect_order(actor=actor, site=line.order.site, title=title, doors=[door])
    else:
        raise Refused(_("Follow up with a swap, or with another inspection."))
    order.arose_from = line
    order.save(update_fields=["arose_from"])
    return order


def _why_not_at(door: Door, site: Site) -> str | None:
    return (
        _("{door} belongs to another site. Open an order there.").format(door=door)
        if door.site.pk != site.pk
        else None
    )
