"""Which cores and keys the open orders of a person name: the ground on which their bittings are shown."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from uuid import UUID

from django.db.models import F, Model, Q, QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Keying
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.selectors import OWING
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.grounds import Ground
from keyctl.systems.models import KeySymbol

# Whoever swaps a core needs none of its pins.
OF_CORES = (WorkOrder.Kind.PIN, WorkOrder.Kind.DECODE)
# An order to pin ends in the records before its cores are built: for so long it still names them.
BUILT_WITHIN = timedelta(days=14)


def named_by_orders(actor: User, things: Sequence[Model]) -> Mapping[UUID, Ground]:
    cores = [thing.pk for thing in things if isinstance(thing, Core)]
    symbols = [thing.pk for thing in things if isinstance(thing, KeySymbol)]
    found: dict[UUID, Ground] = {}
    if cores:
        found |= _grounds(actor, _lines_of_cores(actor).filter(core__in=cores), "core_id")
    if symbols:
        found |= _keys_of_cores(actor, symbols)
        cuts = _lines(actor).filter(
            order__kind=WorkOrder.Kind.CUT, state=OrderLine.State.OPEN, symbol__in=symbols
        )
        found |= _grounds(actor, cuts.filter(_open()), "symbol_id")
    return found


def named_by_order(order: WorkOrder, core: Core) -> Ground | None:
    """The ground that one order gives to whoever reads for the people at work on it."""
    lines = OrderLine.objects.filter(order=order, core=core).select_related("order")
    return Ground(f"for order {order.number}") if _naming(lines).exists() else None


def _lines(actor: User) -> QuerySet[OrderLine]:
    """Lines of orders that are the person's to do: theirs, or nobody's yet."""
    sites = Site.objects.for_roles(actor, Role.LOCKSMITH)
    theirs = Q(order__assigned_to=actor) | Q(order__assigned_to__isnull=True)
    return OrderLine.objects.filter(theirs, order__site__in=sites).select_related("order")


def _open() -> Q:
    return Q(order__state__in=WorkOrder.UNFINISHED)


def _lines_of_cores(actor: User) -> QuerySet[OrderLine]:
    return _naming(_lines(actor))


def _naming(lines: QuerySet[OrderLine]) -> QuerySet[OrderLine]:
    """Of these lines those by which the pins of their cores are needed."""
    lines = lines.filter(order__kind__in=OF_CORES).exclude(state=OrderLine.State.CANCELLED)
    owing = OrderLine.objects.filter(trying__in=OWING, order__closed_at__gt=timezone.now() - BUILT_WITHIN)
    being_built = Q(order__in=owing.values("order"), done_at__gte=F("core__pinned_at"))
    return lines.filter(_open() | being_built)


def _keys_of_cores(actor: User, symbols: Sequence[UUID]) -> dict[UUID, Ground]:
    """The change keys that a core at the bench is keyed to: they are tried in it."""
    keyings = Keying.objects.filter(symbol__in=symbols, symbol__kind=KeySymbol.Kind.CHANGE)
    named = _grounds(actor, _lines_of_cores(actor).filter(core__in=keyings.values("core")), "core_id")
    pairs = keyings.filter(core__in=named).values_list("symbol_id", "core_id")
    return {symbol: named[core] for symbol, core in pairs}


def _grounds(actor: User, lines: QuerySet[OrderLine], of: str) -> dict[UUID, Ground]:
    """Work that others gave stands last, and so wins."""
    found = sorted(lines, key=lambda line: line.order.opened_by_id != actor.pk)
    return {
        getattr(line, of): Ground(
            f"for order {line.order.number}", is_own=line.order.opened_by_id == actor.pk
        )
        for line in found
    }
