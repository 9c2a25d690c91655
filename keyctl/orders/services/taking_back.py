"""Whoever opened an order takes it back as long as nobody has begun."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.orders.models import WorkOrder
from keyctl.orders.services.closing import drop_order
from keyctl.orders.services.opening import OPENERS
from keyctl.places.access import require_role


@transaction.atomic
def take_back_order(*, actor: User, order: WorkOrder) -> WorkOrder:
    """For programs, which cancel nothing else: what others opened or began is a locksmith's to cancel."""
    order = WorkOrder.objects.select_for_update(of=("self",)).select_related("site").get(pk=order.pk)
    require_role(actor, order.site, *OPENERS)
    if order.opened_by_id != actor.pk:
        raise Refused(
            _("{order} was opened by somebody else. A locksmith of {site} cancels it.").format(
                order=order, site=order.site
            )
        )
    if order.state != WorkOrder.State.OPEN:
        raise Conflict(
            _("{order} is {value}. Speak to the locksmiths of {site}; nothing was changed.").format(
                order=order, value=in_sentence(order.get_state_display()), site=order.site
            )
        )
    return drop_order(actor=actor, order=order)
