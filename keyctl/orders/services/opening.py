"""Opening orders: what stands in an order is locked while it is written, so that it stands in one only."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max, Q
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import locked_cores
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.models import Housing, Site
from keyctl.places.roles import Role

NUMBER_ATTEMPTS = 50
# Who may open an order; only locksmiths work it.
OPENERS = (Role.LOCKSMITH, Role.INTEGRATION)


@transaction.atomic
def open_pin_order(
    *, actor: User, site: Site, title: str, cores: Iterable[Core], due_on: date | None = None
) -> WorkOrder:
    require_role(actor, site, *OPENERS)
    locked = lock_listed_cores(cores)
    refuse_unless_ready(len(locked), "core", [why_not_to_pin(core, site) for core in locked])
    order = numbered_order(opened_by=actor, site=site, kind=WorkOrder.Kind.PIN, title=title, due_on=due_on)
    add_lines(OrderLine(order=order, ordinal=nth, core=core) for nth, core in enumerate(locked, 1))
    record_opened(actor, order, f"to pin {counted(locked, 'core')}", locked)
    return order


@transaction.atomic
def open_swap_order(
    *, actor: User, site: Site, title: str, housings: Iterable[Housing], due_on: date | None = None
) -> WorkOrder:
    require_role(actor, site, *OPENERS)
    locked = lock_listed_housings(housings)
    refuse_unless_ready(len(locked), "door", [why_not_to_swap(housing, site) for housing in locked])
    order = numbered_order(opened_by=actor, site=site, kind=WorkOrder.Kind.SWAP, title=title, due_on=due_on)
    add_lines(OrderLine(order=order, ordinal=nth, housing=body) for nth, body in enumerate(locked, 1))
    doors = [housing.door for housing in locked]
    record_opened(actor, order, f"to swap {counted(locked, 'core')}", [*locked, *doors])
    return order


def why_not_to_pin(core: Core, site: Site) -> str | None:
    """The sentence that keeps a core out of an order at this site, None where it may stand in one."""
    if core.site_id != site.pk:
        return gettext("Core {core} belongs to another site. Open an order there.").format(core=core)
    if core.place == Core.Place.HOUSING:
        return gettext("Core {core} is in {housing}. Swap it out, then pin it.").format(
            core=core, housing=core.housing
        )
    if core.place == Core.Place.GONE:
        return gettext("Core {core} is gone and cannot be pinned.").format(core=core)
    return why_not_in_two_lines(core)


def why_not_in_two_lines(core: Core, besides: OrderLine | None = None) -> str | None:
    # A core that came out of a door kept shut goes back into it.
    named = Q(core=core) | Q(core_out=core, shut_at__isnull=False, lifted_at__isnull=True)
    others = OrderLine.objects.filter(named, state=OrderLine.State.OPEN).select_related("order")
    other = (others.exclude(pk=besides.pk) if besides else others).first()
    return (
        gettext("Core {core} already stands in order {number}. Finish or cancel that one.").format(
            core=core, number=other.order.number
        )
        if other
        else None
    )


def why_not_to_swap(housing: Housing, site: Site) -> str | None:
    if housing.door.site.pk != site.pk:
        return gettext("{housing} belongs to another site. Open an order there.").format(housing=housing)
    waiting = OrderLine.objects.filter(
        housing=housing, keeps_shut=False, state=OrderLine.State.OPEN
    ).select_related("order")
    if other := waiting.first():
        return gettext(
            "{housing} already waits for a swap in order {number}. Finish or cancel that one."
        ).format(housing=housing, number=other.order.number)
    return None


def lock_listed_cores(cores: Iterable[Core]) -> list[Core]:
    """The cores in the order they were given."""
    wanted = dict.fromkeys(core.pk for core in cores)
    found = locked_cores(wanted)
    return [found[pk] for pk in wanted]


def lock_listed_housings(housings: Iterable[Housing]) -> list[Housing]:
    wanted = [housing.pk for housing in housings]
    rows = (
        Housing.objects.select_for_update(of=("self",))
        .select_related("door__floor__building__site")
        .filter(pk__in=wanted)
        .order_by("pk")
    )
    found = {housing.pk: housing for housing in rows}
    return [found[pk] for pk in dict.fromkeys(wanted)]


def refuse_unless_ready(count: int, noun: str, reasons: Sequence[str | None]) -> None:
    if not count:
        raise Refused(gettext("The order has no line. Choose at least one {noun}.").format(noun=noun))
    if found := [reason for reason in reasons if reason]:
        raise Refused(gettext("The order was not opened."), reasons=found)


def numbered_order(**facts: Any) -> WorkOrder:
    """The next number. Where two take the same one the database lets one through; the other tries again."""
    for _ in range(NUMBER_ATTEMPTS):
        last = WorkOrder.objects.aggregate(last=Max("number"))["last"] or 0
        try:
            with transaction.atomic():
                return WorkOrder.objects.create(number=last + 1, **facts)
        except IntegrityError:
            continue
    raise Conflict(gettext("Many orders are being opened at this moment. Nothing was opened; try again."))


def add_lines(lines: Iterable[OrderLine]) -> None:
    OrderLine.objects.bulk_create(lines, batch_size=500)


def counted(things: Sequence[object], noun: str) -> str:
    return f"{len(things)} {noun}{'' if len(things) == 1 else 's'}"


def record_opened(actor: User, order: WorkOrder, purpose: str, things: Sequence[Any]) -> None:
    record(
        actor=actor,
        verb="order.opened",
        sentence=f"opened order {order.number} {purpose}",
        site_id=order.site_id,
        subjects=[order, *things],
        detail={"number": order.number, "kind": order.kind},
    )
