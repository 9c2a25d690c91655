"""Doors kept shut for a time: a core that their keys do not turn stands in them until a day.

Who needs a way out comes first. A way out or a fire-rated door is shut only on a security officer's word; the
officer asks whoever enforces the code.
"""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.interim.models import Interim
from keyctl.interim.services import change_day, end_of_those_that_left, mark_interim, refuse_day
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.lib.prepared import Prepared, Slot
from keyctl.orders.models import LockOut, OrderLine, WorkOrder
from keyctl.orders.services.closing import locked_order
from keyctl.orders.services.moving import held_for, record_order
from keyctl.orders.services.opening import (
    OPENERS,
    add_lines,
    counted,
    lock_listed_housings,
    numbered_order,
    record_opened,
    refuse_unless_ready,
)
from keyctl.orders.states import Act
from keyctl.places.access import require_role
from keyctl.places.models import Door, Housing, Site

_SHUT = Prepared(
    lambda: (
        OrderLine.objects.filter(housing=Slot("housing"), shut_at__isnull=False, lifted_at__isnull=True)
        .select_related("order")
        .order_by("pk")[:1]
    )
)


@transaction.atomic
def open_lock_out(
    *,
    actor: User,
    site: Site,
    title: str,
    housings: Iterable[Housing],
    asked_by: str,
    until: date,
    due_on: date | None = None,
) -> WorkOrder:
    require_role(actor, site, *OPENERS)
    if not asked_by.strip():
        raise Refused(_("Say who asked for it: they are told when the doors open again."))
    refuse_day(until)
    locked = lock_listed_housings(housings)
    refuse_unless_ready(len(locked), "door", [_why_not_to_shut(housing, site) for housing in locked])
    order = numbered_order(
        opened_by=actor, site=site, kind=WorkOrder.Kind.LOCK_OUT, title=title, due_on=due_on
    )
    LockOut.objects.create(order=order, asked_by=asked_by.strip()[:120], until=until)
    add_lines(
        OrderLine(order=order, ordinal=nth, housing=housing, keeps_shut=True)
        for nth, housing in enumerate(locked, 1)
    )
    doors = [housing.door for housing in locked]
    record_opened(actor, order, f"to keep {counted(locked, 'door')} shut until {until:%-d %b %Y}", doors)
    return order


@transaction.atomic
def allow_ways_out(*, actor: User, order: WorkOrder, word: str) -> LockOut:
    """The officer's word that ways out and fire-rated doors of this order may be shut, and why."""
    order = held_for(actor, order, Act.ALLOW)
    lock_out = lock_out_of(order)
    if not word.strip():
        raise Refused(_("Say why these doors may be shut, and which way out people have instead."))
    lock_out.word, lock_out.word_by, lock_out.word_at = word.strip()[:300], actor, timezone.now()
    lock_out.save(update_fields=["word", "word_by", "word_at"])
    sentence = f"allowed shutting ways out and fire-rated doors for order {order.number}: {lock_out.word}"
    record_order(actor, order, "order.ways_out_allowed", sentence)
    return lock_out


@transaction.atomic
def change_until(*, actor: User, order: WorkOrder, until: date) -> LockOut:
    """Another day: the cores that stand in its doors leave on that day too.

    The officer's word was for the day that the officer saw: it does not reach a later one.
    """
    order = locked_order(actor, order)
    lock_out = lock_out_of(order)
    refuse_day(until)
    sentence = f"moved the day until which order {order.number} keeps doors shut to {until:%-d %b %Y}"
    if lock_out.word and until > lock_out.until:
        lock_out.word, lock_out.word_by, lock_out.word_at = "", None, None
        sentence += "; for ways out and fire-rated doors a security officer gives their word anew"
    lock_out.until = until
    lock_out.save(update_fields=["until", "word", "word_by", "word_at"])
    _move_days(actor, order, until)
    record_order(actor, order, "order.until_changed", sentence)
    return lock_out


def lock_out_of(order: WorkOrder) -> LockOut:
    found = LockOut.objects.select_for_update().filter(order_id=order.pk).first()
    if found is None:
        raise Refused(_("{order} keeps no door shut.").format(order=order))
    return found


def refuse_without_word(line: OrderLine, door: Door) -> None:
    """Before a door is shut; lifting it never waits for anybody."""
    if needs_word(door) and not lock_out_of(line.order).word:
        what = _("a way out") if door.is_egress else _("fire-rated")
        raise Refused(
            _(
                "{door} is {what}. A security officer says in words that it may be shut before anybody shuts "
                "it."
            ).format(door=door, what=what)
        )


def needs_word(door: Door) -> bool:
    return door.is_egress or door.is_fire_rated


def mark_shut(actor: User, line: OrderLine) -> None:
    """The core that stands in the door now leaves it by the day of the order."""
    if line.core is None:
        raise AssertionError(line)
    line.shut_at = timezone.now()
    line.save(update_fields=["shut_at", "core_out"])
    mark_interim(
        actor=actor,
        core=line.core,
        until=lock_out_of(line.order).until,
        why=_("Keeps shut: {order}").format(order=line.order),
    )
    tell_door(
        actor, line, "order.door_shut", f"shut {in_english(line.housing)} for order {line.order.number}"
    )


def mark_lifted(actor: User, line: OrderLine) -> None:
    """Its own core is back. The line ends with the check of the door."""
    line.lifted_at = timezone.now()
    line.operating_key_turned = line.control_key_came_out = line.egress_and_latch_tried = True
    line.save(
        update_fields=[
            "lifted_at",
            "operating_key_turned",
            "control_key_came_out",
            "egress_and_latch_tried",
        ]
    )
    if line.core:
        end_of_those_that_left(line.core)
    tell_door(
        actor,
        line,
        "order.door_lifted",
        f"opened {in_english(line.housing)} again for order {line.order.number}",
    )


def refuse_while_shut(housing: Housing) -> None:
    """A door that is kept shut gets no other core before its own is back."""
    # Asked at every swap, and hardly ever true.
    if line := _SHUT.first(housing=housing.pk):
        raise Refused(
            _("{housing} is kept shut by {order}. Put its own core back there first.").format(
                housing=housing, order=line.order
            )
        )


def _why_not_to_shut(housing: Housing, site: Site) -> str | None:
    if housing.door.site.pk != site.pk:
        return _("{housing} belongs to another site. Open an order there.").format(housing=housing)
    if not housing.cores.exists():
        return _("No core is in {housing}: no key locks it now. Swap one in first.").format(housing=housing)
    lines = OrderLine.objects.filter(housing=housing, keeps_shut=True, state=OrderLine.State.OPEN)
    if other := lines.select_related("order").first():
        return _("{housing} already stands in {order}. Change the day there.").format(
            housing=housing, order=other.order
        )
    return None


def _move_days(actor: User, order: WorkOrder, until: date) -> None:
    shut = order.lines.filter(shut_at__isnull=False, lifted_at__isnull=True).values("core")
    for interim in Interim.objects.standing().filter(core__in=shut).with_names():
        try:
            change_day(actor=actor, interim=interim, version=interim.version, until=until, why=interim.why)
        except Conflict:
            continue


def tell_door(actor: User, line: OrderLine, verb: str, sentence: str) -> None:
    door = line.door_at
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=line.order.site_id,
        subjects=[line.order, *([door] if door else [])],
        detail={"line": line.ordinal},
    )
