"""Pin stock is for locksmiths alone: what one order took out of the bins says much about its cores."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.stock.models import PinBin


def stock_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, Role.LOCKSMITH)


def refuse_outsiders(actor: User) -> None:
    """For the page of all sites: somebody who is a locksmith nowhere is turned away."""
    require_some(stock_sites(actor))


def stock_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, Role.LOCKSMITH)


def workable_bin(actor: User, pk: UUID) -> PinBin:
    found = get_object_or_404(PinBin.objects.select_related("site"), pk=pk)
    require_role(actor, found.site, Role.LOCKSMITH)
    return found
