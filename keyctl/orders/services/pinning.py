"""Pinning all cores of an order, as a job: the keys of a system are read once, and each batch is kept."""

from collections import Counter
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.cores.services.bulk import Pinner
from keyctl.cores.turning import pins_of
from keyctl.cores.waiting import IN_HAND
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.closing import finish_line, locked_order, mark_worked
from keyctl.orders.services.trying import owe_try_out
from keyctl.stock import services as stock
from keyctl.stock.families import pins_in
from keyctl.systems.models import KeySystem

PIN_ALL = "orders.pin-all"
DOING = gettext_lazy("Pinning the cores of the order")
LINES_AT_ONCE = 25
MOST_NAMED = 20


@transaction.atomic
def start_pin_all(*, actor: User, order: WorkOrder) -> Job:
    """What is pinned is built by the pinning sheet afterwards, core by core, and tried."""
    order = locked_order(actor, order)
    if order.kind != WorkOrder.Kind.PIN:
        raise Refused(
            _("{order} is there to {value}.").format(order=order, value=in_sentence(order.get_kind_display()))
        )
    if Job.objects.unfinished().about(order).filter(kind=PIN_ALL).exists():
        raise Conflict(
            _("The cores of {order} are being pinned already; the job tells how far it is.").format(
                order=order
            )
        )
    return start_job(
        actor=actor,
        kind=PIN_ALL,
        site=order.site,
        parameters={"order": str(order.pk)},
        subjects=[order],
        back_url=reverse("orders:detail", args=[order.pk]),
        about=str(order),
    )


def pin_all(running: Running) -> dict[str, Any]:
    """Batch by batch the lines that are open then; those that cannot be pinned stay open and are named."""
    order = WorkOrder.objects.select_related("site").get(pk=running.parameters["order"])
    total, refused = order.lines.count(), list(running.checkpoint.get("refused", []))
    pinners: dict[UUID, Pinner] = {}
    while lines := _next(order, refused):
        running.step(total - len(_waiting(order)), total, DOING)
        with transaction.atomic():
            mark_worked(locked_order(running.actor, order))
            refused += _pin(running.actor, order, lines, pinners)
            running.save({"refused": refused})
    running.step(total, total, DOING)
    return _outcome(order, refused)


def _waiting(order: WorkOrder) -> list[UUID]:
    open_lines = order.lines.filter(state=OrderLine.State.OPEN, core__isnull=False)
    return list(open_lines.order_by("ordinal").values_list("pk", flat=True))


def _next(order: WorkOrder, refused: Sequence[str]) -> list[OrderLine]:
    wanted = [pk for pk in _waiting(order) if str(pk) not in refused][:LINES_AT_ONCE]
    lines = OrderLine.objects.filter(pk__in=wanted).select_related("core__system", "order__site")
    return list(lines.order_by("ordinal"))


def _pin(actor: User, order: WorkOrder, lines: Sequence[OrderLine], pinners: dict[UUID, Pinner]) -> list[str]:
    """The lines that could not be pinned, by identifier."""
    empty = [line for line in lines if line.core and _is_empty_and_at_hand(line.core)]
    pinned = _pin_empty(actor, empty, pinners)
    for line in lines:
        if line not in empty and line.core is not None and _pinned_anew(actor, line.core):
            pinned.add(line.core.pk)
    done = [line for line in lines if line.core and line.core.pk in pinned]
    _book(actor, order, Core.objects.filter(pk__in=pinned))
    for line in done:
        owe_try_out(line)
        finish_line(actor, line)
    _tell(actor, order, len(done))
    return [str(line.pk) for line in lines if line not in done]


def _is_empty_and_at_hand(core: Core) -> bool:
    """Together they are refused together; one that is away or disputed is tried by itself and named."""
    is_at_hand = core.place in IN_HAND and not core.is_disputed
    return is_at_hand and not core.is_pinned and core.system is not None


def _pin_empty(actor: User, lines: Sequence[OrderLine], pinners: dict[UUID, Pinner]) -> set[UUID]:
    by_system: dict[KeySystem, list[UUID]] = {}
    for line in lines:
        if line.core and line.core.system:
            by_system.setdefault(line.core.system, []).append(line.core.pk)
    found: set[UUID] = set()
    for system, wanted in by_system.items():
        if system.pk not in pinners:
            pinners[system.pk] = Pinner(actor, system)
        found |= {core.pk for core in pinners[system.pk].pin(wanted).cores}
    return found


def _pinned_anew(actor: User, core: Core) -> bool:
    try:
        with transaction.atomic():
            cores.pin_core(actor=actor, core=core, version=core.version)
    except Refused:
        return False
    return True


def _book(actor: User, order: WorkOrder, pinned: QuerySet[Core]) -> None:
    """By format, for one batch at once: no bin's movement tells what one core is built of."""
    by_format: dict[str, Counter[tuple[str, int]]] = {}
    formats = {}
    for core in pinned:
        pins = pins_of(core)
        formats[core.format_id] = pins.format
        by_format.setdefault(core.format_id, Counter()).update(pins_in(pins))
    for format_id, used in by_format.items():
        stock.book_use(actor=actor, site=order.site, format=formats[format_id], pins=used, order=str(order))


def _tell(actor: User, order: WorkOrder, number: int) -> None:
    if number:
        record(
            actor=actor,
            verb="order.lines_pinned",
            sentence=f"pinned {number} core{'' if number == 1 else 's'} for order {order.number}",
            site_id=order.site_id,
            subjects=[order],
            detail={"cores": number},
        )


def _outcome(order: WorkOrder, refused: Sequence[str]) -> dict[str, Any]:
    done = order.lines.filter(state=OrderLine.State.DONE).count()
    sentence = _(
        "Pinned in the records: {done} cores of {order}. Build them by the pinning sheet and try each."
    ).format(done=done, order=order)
    if refused:
        named = OrderLine.objects.filter(pk__in=refused[:MOST_NAMED]).select_related("core")
        cores = ", ".join(str(line.core) for line in named)
        sentence += " " + _("Not pinned: {cores}. Try one to read why.").format(cores=cores)
    return {
        "sentence": sentence,
        "url": reverse("orders:detail", args=[order.pk]),
        "facts": {_("Pinned"): done, _("Not pinned"): len(refused)},
    }
