"""Orders of the other kinds: an inspection under way, doors to be kept shut, a lost control key."""

from datetime import timedelta

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.orders.checklists import points_of
from keyctl.orders.models import Check, OrderLine, WorkOrder
from keyctl.orders.services import (
    assign_order,
    check_line,
    keys_due,
    let_wait,
    open_follow_up,
    open_inspect_order,
    open_lock_out,
    open_recover_order,
    record_try_out,
    report_unreached,
    start_order,
)
from keyctl.places.models import Door, Housing, Site
from keyctl.places.roles import Role

Found = Check.Found
DOORS = 5


def build_orders(people: dict[Role, User], pinned: WorkOrder) -> None:
    locksmith, site = people[Role.LOCKSMITH], pinned.site
    _try_cores(locksmith, pinned)
    _inspect(locksmith, site)
    _lock_out(locksmith, site)
    system = site.key_systems.order_by("code")[0]
    open_recover_order(
        actor=locksmith, site=site, title=f"Control key of {system.code}, not in the safe", system=system
    )


def _try_cores(locksmith: User, order: WorkOrder) -> None:
    """All but the last; that one still lies on the bench."""
    owing = order.lines.filter(trying=OrderLine.Trying.OWED).select_related("order__site", "core__system")
    for line in list(owing.order_by("ordinal"))[:-1]:
        if line.core:
            due = keys_due(actor=locksmith, line=line)
            found = {key.symbol.pk: key.expected for key in due}
            record_try_out(actor=locksmith, line=line, tag=line.core.tag, found=found)


def _inspect(locksmith: User, site: Site) -> None:
    doors = Door.objects.filter(floor__building__site=site, is_fire_rated=True).with_places()
    order = open_inspect_order(
        actor=locksmith,
        site=site,
        title="Fire-rated doors before the winter",
        doors=doors.order_by("number")[:DOORS],
        due_on=timezone.localdate() + timedelta(days=9),
    )
    assign_order(actor=locksmith, order=order, to=locksmith)
    good, bad, locked_off = order.lines.select_related("order__site").order_by("ordinal")[:3]
    check_line(actor=locksmith, line=good, items=dict.fromkeys(_keys(good), Found.GOOD))
    items = dict.fromkeys(_keys(bad), Found.GOOD) | {"latches": Found.BAD}
    check_line(actor=locksmith, line=bad, items=items, note="The latch rubs on the strike")
    open_follow_up(actor=locksmith, line=bad, kind=WorkOrder.Kind.INSPECT)
    report_unreached(actor=locksmith, line=locked_off, reason="An examination until four")


def _lock_out(locksmith: User, site: Site) -> None:
    bodies = Housing.objects.filter(door__floor__building__site=site, cores__isnull=False).order_by(
        "door__number"
    )
    chosen = [*bodies.filter(door__is_egress=True)[:1], *bodies.filter(door__is_egress=False)[:2]]
    order = open_lock_out(
        actor=locksmith,
        site=site,
        title="Rooms being dried out after a burst pipe",
        housings=chosen,
        asked_by="Facilities, on the telephone",
        until=timezone.localdate() + timedelta(days=21),
    )
    start_order(actor=locksmith, order=order)
    let_wait(actor=locksmith, order=order, reason="The security officer's word for the way out")


def _keys(line: OrderLine) -> list[str]:
    return [point.key for point in points_of(line)]
