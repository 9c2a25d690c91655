"""Orders written by another act (the plan after a loss), whose own service has asked for its role."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Conflict
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.opening import numbered_order, record_opened
from keyctl.places.models import Housing, Site
from keyctl.systems.models import KeySymbol

Kind = WorkOrder.Kind
MOST_NAMED = 10


def write_pin_order(
    *, actor: User, site: Site, title: str, cores: Sequence[Core], due_on: date | None = None
) -> WorkOrder:
    _refuse_taken(OrderLine.objects.filter(core__in=cores, state=OrderLine.State.OPEN), "core")
    order = numbered_order(opened_by=actor, site=site, kind=Kind.PIN, title=title, due_on=due_on)
    _write(OrderLine(order=order, ordinal=nth, core=core) for nth, core in enumerate(cores, 1))
    record_opened(actor, order, f"to pin {_counted(len(cores), 'core')}", cores)
    return order


def write_swap_order(
    *,
    actor: User,
    site: Site,
    title: str,
    meant: Mapping[Housing, Core],
    due_on: date | None = None,
) -> WorkOrder:
    """``meant`` says which core was made for which housing."""
    _refuse_taken(OrderLine.objects.filter(housing__in=meant, state=OrderLine.State.OPEN), "housing")
    order = numbered_order(opened_by=actor, site=site, kind=Kind.SWAP, title=title, due_on=due_on)
    _write(
        OrderLine(order=order, ordinal=nth, housing=housing, meant=core)
        for nth, (housing, core) in enumerate(meant.items(), 1)
    )
    doors = [housing.door for housing in meant]
    record_opened(actor, order, f"to swap {_counted(len(meant), 'core')}", [*meant, *doors])
    return order


def write_cut_order(
    *,
    actor: User,
    site: Site,
    title: str,
    counts: Sequence[tuple[KeySymbol, int]],
    cabinet: Cabinet,
    due_on: date | None = None,
) -> WorkOrder:
    order = numbered_order(opened_by=actor, site=site, kind=Kind.CUT, title=title, due_on=due_on)
    _write(
        OrderLine(order=order, ordinal=nth, symbol=symbol, count=count, cabinet=cabinet)
        for nth, (symbol, count) in enumerate(counts, 1)
    )
    total = sum(count for _, count in counts)
    record_opened(actor, order, f"to cut {total} copies", [symbol for symbol, _ in counts])
    return order


def _write(lines: Iterable[OrderLine]) -> None:
    OrderLine.objects.bulk_create(lines, batch_size=500)


def _refuse_taken(lines: QuerySet[OrderLine], noun: str) -> None:
    """What waits in another order would be worked twice."""
    taken = list(lines.select_related("order", "core", "housing__door__floor__building")[:MOST_NAMED])
    if taken:
        raise Conflict(
            "; ".join(f"{getattr(line, noun)} already stands in order {line.order.number}" for line in taken)
            + ". Finish or cancel those lines first. Nothing was changed."
        )


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
