"""Who may read a work order, and who may work on it."""

from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

READERS = (
    Role.LOCKSMITH,
    Role.MANAGER,
    Role.OFFICER,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
    Role.INTEGRATION,
)


def visible_orders(actor: User) -> QuerySet[WorkOrder]:
    sites = Site.objects.for_roles(actor, *READERS)
    return WorkOrder.objects.at_sites(sites).select_related("site", "opened_by")


def readable_order(actor: User, pk: UUID) -> WorkOrder:
    return _order_for(actor, pk, *READERS)


def workable_order(actor: User, pk: UUID) -> WorkOrder:
    return _order_for(actor, pk, Role.LOCKSMITH)


def workable_line(actor: User, pk: UUID) -> OrderLine:
    lines = OrderLine.objects.select_related(
        "order__site",
        "core__site",
        "core__carrier",
        "core_out",
        "done_by",
        "housing__door__floor__building__site",
        "door__floor__building__site",
        "system",
        "symbol__system",
        "cabinet__site",
    )
    line = get_object_or_404(lines, pk=pk)
    require_role(actor, line.order.site, Role.LOCKSMITH)
    return line


def workable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, Role.LOCKSMITH)


def workable_site(actor: User, pk: UUID) -> Site:
    site = Site.objects.filter(pk=pk).first()
    if site is None:
        raise Http404
    require_role(actor, site, Role.LOCKSMITH)
    return site


def keys_of(site: Site) -> QuerySet[KeySymbol]:
    """Every key of the systems used at a site that was fetched for work."""
    return KeySymbol.objects.filter(system__in=site.key_systems.all()).select_related("system")


def key_of(site: Site, pk: UUID) -> KeySymbol:
    return get_object_or_404(keys_of(site), pk=pk)


def system_of(site: Site, pk: UUID) -> KeySystem:
    return get_object_or_404(site.key_systems, pk=pk)


def _order_for(actor: User, pk: UUID, *roles: Role) -> WorkOrder:
    rows = WorkOrder.objects.select_related(
        "site", "opened_by", "assigned_to", "part_of", "arose_from__order", "lock_out__word_by"
    )
    order = get_object_or_404(rows, pk=pk)
    require_role(actor, order.site, *roles)
    return order
