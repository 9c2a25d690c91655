"""Who prints labels, and who measures grids."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.labels.models import LabelGrid
from keyctl.places.access import require_role, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role

PRINTERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.ADMINISTRATOR)


def printing_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *PRINTERS)


def printing_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *PRINTERS)


def printing_grid(actor: User, pk: UUID) -> LabelGrid:
    grid = get_object_or_404(LabelGrid.objects.select_related("site"), pk=pk)
    require_role(actor, grid.site, *PRINTERS)
    return grid
