"""Orders to find out what is in cores whose pins nobody knows; a line is done when the records hold them."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.closing import finish_line, locked_line
from keyctl.orders.services.opening import (
    OPENERS,
    add_lines,
    counted,
    lock_listed_cores,
    numbered_order,
    record_opened,
    refuse_unless_ready,
    why_not_to_pin,
)
from keyctl.places.access import require_role
from keyctl.places.models import Site

Kind = WorkOrder.Kind


@transaction.atomic
def open_decode_order(
    *, actor: User, site: Site, title: str, cores: Iterable[Core], due_on: date | None = None
) -> WorkOrder:
    require_role(actor, site, *OPENERS)
    locked = lock_listed_cores(cores)
    refuse_unless_ready(len(locked), "core", [why_not_to_decode(core, site) for core in locked])
    order = numbered_order(opened_by=actor, site=site, kind=Kind.DECODE, title=title, due_on=due_on)
    add_lines(OrderLine(order=order, ordinal=nth, core=core) for nth, core in enumerate(locked, 1))
    record_opened(actor, order, f"to decode {counted(locked, 'core')}", locked)
    return order


def why_not_to_decode(core: Core, site: Site) -> str | None:
    if core.is_pinned:
        return _(
            "The records hold the pins of core {core}. Read it at the bench by itself, to compare them."
        ).format(core=core)
    if core.place == Core.Place.HOUSING:
        return _("Core {core} is in {housing}. Swap it out, then decode it.").format(
            core=core, housing=core.housing
        )
    return why_not_to_pin(core, site)


@transaction.atomic
def core_decoded(*, actor: User, core: Core) -> None:
    """For the bench, in the act that recorded what was found in the core: its open line is done."""
    lines = OrderLine.objects.filter(core=core, order__kind=Kind.DECODE, state=OrderLine.State.OPEN)
    if line := lines.select_related("order").first():
        finish_decoded(actor=actor, line=line)


@transaction.atomic
def finish_decoded(*, actor: User, line: OrderLine) -> OrderLine:
    """Also said by itself, where the pins came into the records by another way."""
    line = locked_line(actor, line, Kind.DECODE)
    if line.core is None or not line.core.is_pinned:
        raise Refused(
            _("The records hold no pins of core {core} yet. Read them at the bench first.").format(
                core=line.core
            )
        )
    record(
        actor=actor,
        verb="order.line_decoded",
        sentence=f"decoded core {line.core} for order {line.order.number}",
        site_id=line.order.site_id,
        subjects=[line.order],
        detail={"line": line.ordinal, "core": line.core.tag},
    )
    finish_line(actor, line)
    return line
