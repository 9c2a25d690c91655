"""Work orders."""

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.exports.tables.columns import Column, Narrowed, Table, day, moment, words
from keyctl.orders.access import READERS
from keyctl.orders.forms import OrderFilter
from keyctl.orders.models import WorkOrder
from keyctl.orders.selectors import orders_by_state
from keyctl.places.roles import Role

TAKERS = tuple(role for role in READERS if role != Role.INTEGRATION)


def _orders(actor: User, said: Narrowed) -> QuerySet[WorkOrder]:
    orders = orders_by_state(actor, **OrderFilter(dict(said)).chosen())
    return orders.filter(site__in=ORDERS.sites(actor))


ORDERS = Table(
    name="orders",
    page="orders:list",
    title=gettext_lazy("Work orders"),
    takers=TAKERS,
    rows=_orders,
    narrowed_by=("state", "kind", "whose", "due"),
    columns=(
        Column("Order", lambda order: order.number, 8),
        Column("Site", lambda order: order.site.code, 10),
        Column("Work", lambda order: order.kind, 12),
        Column("For", lambda order: order.title, 40),
        Column("State", lambda order: order.state, 12),
        Column("Waits for", lambda order: order.waits_for, 24),
        Column("Done by", lambda order: words(order.assigned_to), 24),
        Column("Opened by", lambda order: words(order.opened_by), 24),
        Column("Opened", lambda order: moment(order.opened_at), 24),
        Column("Due", lambda order: day(order.due_on), 12),
        Column("Lines", lambda order: order.line_count, 8),
        Column("Lines done", lambda order: order.done_count, 10),
        Column("Part of", lambda order: order.part_of.number if order.part_of else None, 8),
        Column("Closed", lambda order: moment(order.closed_at), 24),
    ),
)
