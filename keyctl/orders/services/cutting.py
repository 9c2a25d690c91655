"""Orders to cut keys: so many copies of each key. A line is done when its copies are in the cabinet."""

from collections.abc import Mapping
from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys import services as keys
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Refused
from keyctl.orders.listening import tell_listeners
from keyctl.orders.models import MOST_COPIES, OrderLine, WorkOrder
from keyctl.orders.services.closing import finish_line, locked_line
from keyctl.orders.services.opening import OPENERS, numbered_order, record_opened, refuse_unless_ready
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol


@transaction.atomic
def open_cut_order(
    *,
    actor: User,
    site: Site,
    title: str,
    counts: Mapping[KeySymbol, int],
    cabinet: Cabinet,
    due_on: date | None = None,
) -> WorkOrder:
    """``counts`` says how many copies of each key; all of them go into the one cabinet."""
    require_role(actor, site, *OPENERS)
    return order_keys(actor=actor, site=site, title=title, counts=counts, cabinet=cabinet, due_on=due_on)


@transaction.atomic
def order_keys(
    *,
    actor: User,
    site: Site,
    title: str,
    counts: Mapping[KeySymbol, int],
    cabinet: Cabinet,
    due_on: date | None = None,
) -> WorkOrder:
    """The same for the apps above, where an act of the actor needs the keys (an approved request); the right
    to that act was asked for there."""
    systems = set(site.key_systems.values_list("pk", flat=True))
    reasons = [why_not_to_cut(symbol, count, site, systems) for symbol, count in counts.items()]
    refuse_unless_ready(len(counts), "key", [*reasons, why_not_into(cabinet, site)])
    order = numbered_order(opened_by=actor, site=site, kind=WorkOrder.Kind.CUT, title=title, due_on=due_on)
    OrderLine.objects.bulk_create(
        OrderLine(order=order, ordinal=nth, symbol=symbol, count=count, cabinet=cabinet)
        for nth, (symbol, count) in enumerate(counts.items(), 1)
    )
    record_opened(actor, order, _purpose(counts), list(counts))
    return order


@transaction.atomic
def cut_line(*, actor: User, line: OrderLine) -> OrderLine:
    """The copies came from the machine: they are in stock, each with its serial, and the line is done."""
    line = locked_line(actor, line, WorkOrder.Kind.CUT)
    if line.symbol is None or line.count is None or line.cabinet is None:
        raise Refused(_("{line} names no key. Cancel the order and open it anew.").format(line=line))
    site, number = line.order.site, line.order.number
    copies = keys.cut_copies(
        actor=actor, symbol=line.symbol, site=site, cabinet=line.cabinet, count=line.count
    )
    line.copies.set(copies)
    record(
        actor=actor,
        verb="order.line_cut",
        sentence=f"cut the keys of line {line.ordinal} for order {number}: {line.count} of {line.symbol}",
        site_id=site.pk,
        subjects=[line.order],
        detail={"line": line.ordinal, "serials": [copy.serial for copy in copies]},
    )
    finish_line(actor, line)
    tell_listeners(actor, line, copies)
    return line


def why_not_to_cut(symbol: KeySymbol, count: int, site: Site, systems: set[UUID]) -> str | None:
    if symbol.system_id not in systems:
        return _("{symbol} belongs to {system}, which is not used at {site}. Open an order there.").format(
            symbol=symbol, system=symbol.system, site=site
        )
    if symbol.is_retired:
        return _(
            "{symbol} is retired after a loss and is not cut again. Order the key that took its place."
        ).format(symbol=symbol)
    if not 1 <= count <= MOST_COPIES:
        return _("Cut between 1 and {most_copies} copies of {symbol}, not {count}.").format(
            most_copies=MOST_COPIES, symbol=symbol, count=count
        )
    return None


def why_not_into(cabinet: Cabinet, site: Site) -> str | None:
    if cabinet.site_id != site.pk:
        return _("{cabinet} is not a cabinet of {site}. Choose one of {site}.").format(
            cabinet=cabinet, site=site
        )
    return None


def _purpose(counts: Mapping[KeySymbol, int]) -> str:
    number = sum(counts.values())
    which = str(next(iter(counts))) if len(counts) == 1 else f"{len(counts)} keys"
    return f"to cut {number} {'copy' if number == 1 else 'copies'} of {which}"
