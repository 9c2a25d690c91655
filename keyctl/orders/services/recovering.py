"""Orders to recover a lost control key. The work is the case's, which lies above and tells how it ended."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.closing import drop_order, finish_line, locked_line
from keyctl.orders.services.opening import OPENERS, numbered_order, record_opened
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem

Kind = WorkOrder.Kind


@transaction.atomic
def open_recover_order(
    *, actor: User, site: Site, title: str, system: KeySystem, due_on: date | None = None
) -> WorkOrder:
    require_role(actor, site, *OPENERS)
    # Everybody who opens one at the site waits here, so that the second one sees the first one's.
    Site.objects.select_for_update().get(pk=site.pk)
    _refuse(site, system)
    order = numbered_order(opened_by=actor, site=site, kind=Kind.RECOVER, title=title, due_on=due_on)
    OrderLine.objects.create(order=order, ordinal=1, system=system)
    record_opened(actor, order, f"to recover the control key of {system.code}", [system])
    return order


@transaction.atomic
def recovery_ended(*, actor: User, site: Site, system: KeySystem, has_key: bool) -> None:
    """For the case, in the act that ends it: the order that waits for it ends in the same way."""
    if line := _waiting(site, system):
        if has_key:
            finish_line(actor, locked_line(actor, line, Kind.RECOVER))
        else:
            drop_order(actor=actor, order=line.order)


def _waiting(site: Site, system: KeySystem) -> OrderLine | None:
    lines = OrderLine.objects.filter(
        order__site=site, order__kind=Kind.RECOVER, system=system, state=OrderLine.State.OPEN
    )
    return lines.select_related("order").first()


def _refuse(site: Site, system: KeySystem) -> None:
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}. Choose a system that is.").format(system=system, site=site)
        )
    if other := _waiting(site, system):
        raise Conflict(
            _("{order} is there for the control key of {code}. Go on with that one.").format(
                order=other.order, code=system.code
            )
        )
