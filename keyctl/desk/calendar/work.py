"""Work and what must not be forgotten: orders, cores that are in a door for a time, counts."""

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.counts.access import visible_counts
from keyctl.counts.models import Count
from keyctl.desk.calendar.entries import Entry, last_changes
from keyctl.interim.models import Interim
from keyctl.lib.language import in_sentence
from keyctl.orders.access import visible_orders
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Site


def own_orders(user: User) -> list[Entry]:
    """While one may read orders at their site."""
    return _orders(visible_orders(user).filter(assigned_to=user))


def orders_of(user: User, site: Site) -> list[Entry]:
    return _orders(visible_orders(user).filter(site=site))


def interims_of(_user: User, site: Site) -> list[Entry]:
    marks = list(Interim.objects.standing().filter(site=site))
    changes, path = last_changes(marks), reverse("interim:list")
    return [
        Entry(
            f"interim-{mark.pk}",
            mark.until,
            _("Temporary core must leave"),
            changes.get(mark.pk, mark.marked_at),
            path,
        )
        for mark in marks
    ]


def counts_of(user: User, site: Site) -> list[Entry]:
    counts = visible_counts(user).filter(
        site=site, due_on__isnull=False, state__in=(Count.State.DUE, Count.State.RUNNING)
    )
    found = list(counts)
    changes = last_changes(found)
    return [
        Entry(
            f"count-{count.pk}",
            count.due_on,
            _("Count {number} of keys due").format(number=count.number),
            changes.get(count.pk, count.opened_at),
            reverse("counts:detail", args=[count.pk]),
        )
        for count in found
        if count.due_on
    ]


def _orders(orders: "QuerySet[WorkOrder]") -> list[Entry]:
    found = list(orders.filter(state__in=WorkOrder.UNFINISHED, due_on__isnull=False))
    changes = last_changes(found)
    return [
        Entry(
            f"order-{order.pk}",
            order.due_on,
            _("Work order {number} due: {kind}").format(
                number=order.number, kind=in_sentence(order.get_kind_display())
            ),
            changes.get(order.pk, order.opened_at),
            reverse("orders:detail", args=[order.pk]),
        )
        for order in found
        if order.due_on
    ]
