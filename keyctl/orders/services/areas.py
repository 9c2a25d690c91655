"""The order of an area: an umbrella over parts, each a pin order and a swap order over some of its doors.

Written inside acts whose own service has asked for its role: a rekeyed area, or one dealt out in waves.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import WorkOrder
from keyctl.orders.services.closing import close_area
from keyctl.orders.services.opening import numbered_order
from keyctl.orders.services.writing import write_pin_order, write_swap_order
from keyctl.places.models import Housing, Site


@dataclass(frozen=True)
class Part:
    """``pin`` is None where every core of the part holds its pins already."""

    pin: WorkOrder | None
    swap: WorkOrder


@transaction.atomic
def write_area(
    *,
    actor: User,
    site: Site,
    title: str,
    due_on: date | None = None,
    assigned_to: User | None = None,
    more_to_come: bool = False,
) -> WorkOrder:
    """With ``more_to_come`` it stays open when its parts are done, until `no_more_parts` is said."""
    order = numbered_order(
        opened_by=actor,
        site=site,
        kind=WorkOrder.Kind.REKEY,
        title=title,
        due_on=due_on,
        assigned_to=assigned_to,
        more_to_come=more_to_come,
    )
    record(
        actor=actor,
        verb="order.opened",
        sentence=f"opened order {order.number} to rekey an area",
        site_id=site.pk,
        subjects=[order],
        detail={"number": order.number, "kind": order.kind},
    )
    return order


@transaction.atomic
def write_part(
    *,
    actor: User,
    area: WorkOrder,
    title: str,
    pairs: Mapping[Housing, Core],
    to_pin: Collection[Core] | None = None,
    due_on: date | None = None,
) -> Part:
    """Pin the cores (all, or those of ``to_pin``) and swap each into its housing."""
    area = (
        WorkOrder.objects.select_for_update(of=("self",))
        .select_related("site", "assigned_to")
        .get(pk=area.pk)
    )
    _refuse_part(area, pairs)
    unpinned = list(pairs.values() if to_pin is None else to_pin)
    given: dict[str, Any] = {
        "actor": actor,
        "site": area.site,
        "title": title,
        "due_on": due_on,
        "part_of": area,
    }
    pin = write_pin_order(cores=unpinned, **given) if unpinned else None
    return Part(pin, write_swap_order(meant=pairs, **given))


@transaction.atomic
def no_more_parts(*, actor: User, area: WorkOrder) -> WorkOrder:
    """The last part is written: the area ends with those that are still open, or at once."""
    area = WorkOrder.objects.select_for_update(of=("self",)).get(pk=area.pk)
    if not area.is_open:
        return area
    area.more_to_come = False
    area.save(update_fields=["more_to_come"])
    close_area(actor, area)
    return area


def _refuse_part(area: WorkOrder, pairs: Mapping[Housing, Core]) -> None:
    if not area.is_area:
        raise Refused(
            _("{area} is there to {value}; only an area has parts.").format(
                area=area, value=in_sentence(area.get_kind_display())
            )
        )
    if not area.is_open:
        raise Conflict(
            _("{area} is already {value}. Open a new one for these doors.").format(
                area=area, value=in_sentence(area.get_state_display())
            )
        )
    if not pairs:
        raise Refused(_("The part has no door. Choose at least one."))
