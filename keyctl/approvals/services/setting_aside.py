"""Keys for an approved request: a copy set aside from the cabinets, or an order to cut one.

Held in this order by everybody: the orders of a request, the request, the copies of its keys.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.custom import cabinet_for
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services.locking import locked, tell
from keyctl.approvals.services.telling import tell_ready
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import drop_order, order_keys
from keyctl.places.models import Site

State = KeyRequest.State
UNSETTLED = (State.APPROVED, State.READY)


def held(request: KeyRequest) -> KeyRequest:
    """The request as it is now, with its orders held before it, until the end of the transaction."""
    orders = Grant.objects.filter(request=request, order_line__isnull=False).values("order_line__order")
    list(WorkOrder.objects.select_for_update().filter(pk__in=orders).order_by("pk").values_list("pk"))
    return locked(request)


def provide(actor: User, request: KeyRequest) -> None:
    """What the request, which is held, still lacks: from stock where there is some, else by one order.

    A key that was retired after a loss is given to nobody any more, from stock or cut.
    """
    for grant in _pending(request).exclude(reserved_copy=None):
        if not _is_sound(grant.reserved_copy) or grant.symbol.is_retired:
            _put_aside(grant, None)
    lacking = [grant for grant in _pending(request).filter(reserved_copy=None) if not grant.symbol.is_retired]
    stock = _free_copies([grant.symbol_id for grant in lacking], request.building.site)
    for grant in lacking:
        if copies := stock[grant.symbol_id]:
            _put_aside(grant, copies[0])
    _order(actor, request)
    settle(actor, request)


def settle(actor: User, request: KeyRequest) -> None:
    """Ready once a copy lies there for every key that is not collected yet; told once."""
    lacks = _pending(request).filter(reserved_copy=None).exists()
    is_done = not _pending(request).exists()
    state = State.HANDED_OUT if is_done else State.APPROVED if lacks else State.READY
    if state == request.state:
        return
    was_ready, request.state = request.ready_at is not None, state
    if state != State.HANDED_OUT:
        request.ready_at = timezone.now() if state == State.READY else None
    request.version += 1
    request.save(update_fields=["state", "ready_at", "version"])
    if state == State.READY and not was_ready:
        tell_ready(request)
        tell(actor, request, "request.ready", f"made the keys for {request.holder} ready to collect")


def free(actor: User | None, request: KeyRequest) -> None:
    """What was set aside for the request, which is held and has ended, is anybody's again; nothing is cut."""
    drop_orders(actor, request)
    _pending(request).update(reserved_copy=None)


def drop_orders(actor: User | None, request: KeyRequest) -> None:
    """Nothing is cut any more for the request, which is held: it has all its keys, or wants none."""
    lines = OrderLine.objects.filter(grants__request=request)
    for order in WorkOrder.objects.filter(pk__in=lines.values("order"), state=WorkOrder.State.OPEN):
        drop_order(actor=actor, order=order)


def take_cut_copies(actor: User, line: OrderLine, copies: Sequence[KeyCopy]) -> None:
    """A line was cut: its copies go to the requests that ordered them, if they are still wanted."""
    waiting = Grant.objects.filter(order_line=line, copy=None, reserved_copy=None)
    for pk, copy in zip(waiting.order_by("pk").values_list("pk", flat=True), copies, strict=False):
        request = locked(Grant.objects.select_related("request").get(pk=pk).request)
        grant = Grant.objects.get(pk=pk)
        if request.state == State.APPROVED and grant.copy_id is None:
            _put_aside(grant, copy)
            settle(actor, request)


def aside_for_others(copies: Sequence[KeyCopy], on_request: object = None) -> Mapping[UUID, str]:
    """Of these copies those that lie ready for somebody's request, with a sentence for whoever wants them."""
    grants = Grant.objects.filter(reserved_copy__in=copies).select_related("request__holder", "reserved_copy")
    if isinstance(on_request, KeyRequest):
        grants = grants.exclude(request=on_request)
    return {
        grant.reserved_copy.pk: _(
            "Copy {reserved_copy} is set aside for {holder}, on a request. Take another copy, or hand it "
            "out on that request."
        ).format(reserved_copy=grant.reserved_copy, holder=grant.request.holder)
        for grant in grants
        if grant.reserved_copy
    }


def _pending(request: KeyRequest) -> QuerySet[Grant]:
    grants = Grant.objects.filter(request=request, copy=None)
    return grants.select_related("symbol", "reserved_copy", "order_line__order").order_by("symbol__symbol")


def _put_aside(grant: Grant, copy: KeyCopy | None) -> None:
    grant.reserved_copy = copy
    grant.save(update_fields=["reserved_copy"])


def _is_sound(copy: KeyCopy | None) -> bool:
    return copy is not None and copy.state == KeyCopy.State.IN_CABINET and not copy.is_broken


def _free_copies(symbols: Sequence[UUID], site: Site) -> dict[UUID, list[KeyCopy]]:
    """The sound copies in the site's cabinets that nobody is promised, held until the transaction ends."""
    found: dict[UUID, list[KeyCopy]] = defaultdict(list)
    stock = KeyCopy.objects.filter(symbol__in=symbols, site=site, state=KeyCopy.State.IN_CABINET)
    copies = list(stock.select_for_update().order_by("pk"))
    # Asked after the copies are held: whoever waited for them sees what was promised meanwhile.
    taken = set(Grant.objects.filter(reserved_copy__in=copies).values_list("reserved_copy", flat=True))
    # Held in one order everywhere, dealt out in another: identifiers are random.
    for copy in sorted(copies, key=lambda copy: copy.serial):
        if not copy.is_broken and copy.pk not in taken:
            found[copy.symbol_id].append(copy)
    return found


def _order(actor: User, request: KeyRequest) -> None:
    """One order for all keys that are not in stock and not being cut already."""
    lacking = [
        grant
        for grant in _pending(request).filter(reserved_copy=None)
        if not (grant.order_line and grant.order_line.is_open) and not grant.symbol.is_retired
    ]
    cabinet = cabinet_for(request.building.site)
    if not lacking or cabinet is None:
        return
    order = order_keys(
        actor=actor,
        site=request.building.site,
        title=f"Keys for {request.holder}, on a request"[:160],
        counts={grant.symbol: 1 for grant in lacking},
        cabinet=cabinet,
    )
    lines = {line.symbol_id: line for line in order.lines.all()}
    for grant in lacking:
        grant.order_line = lines[grant.symbol_id]
        grant.save(update_fields=["order_line"])
