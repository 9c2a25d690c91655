"""By when an order shall be done; whoever hands work out says so."""

from datetime import date

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.orders.models import WorkOrder
from keyctl.orders.services.moving import held_for, record_order
from keyctl.orders.states import Act


@transaction.atomic
def set_due_day(*, actor: User, order: WorkOrder, due_on: date | None) -> WorkOrder:
    """Another day, or none. Written down as it is asked for: whoever looks at the list sees what is late."""
    order = held_for(actor, order, Act.ASSIGN)
    before = order.due_on
    if due_on == before:
        return order
    order.due_on = due_on
    order.save(update_fields=["due_on"])
    words = f"by {due_on:%-d %b %Y}" if due_on else "on no day any more"
    was = f"; before: {before:%-d %b %Y}" if before else ""
    return record_order(actor, order, "order.due_changed", f"wants order {order.number} done {words}{was}")
