"""Who brings lists in and who looks at reconstructions: bittings are read, so few."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.inherited.models import BittingList
from keyctl.places.access import require_role, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role

BRINGERS = (Role.LOCKSMITH,)
READERS = (Role.LOCKSMITH, Role.OFFICER)


def readable_sites(actor: User) -> QuerySet[Site]:
    """The sites whose lists and cores the actor may look into; somebody with none is turned away."""
    return require_some(Site.objects.for_roles(actor, *READERS))


def workable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *BRINGERS)


def refuse_idle(actor: User) -> None:
    """403 for whoever brings lists in nowhere."""
    require_some(workable_sites(actor))


def readable_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *READERS)


def readable_list(actor: User, pk: UUID) -> BittingList:
    found = get_object_or_404(BittingList.objects.select_related("site", "system", "uploaded_by"), pk=pk)
    require_role(actor, found.site, *READERS)
    return found


def workable_list(actor: User, pk: UUID) -> BittingList:
    found = readable_list(actor, pk)
    require_role(actor, found.site, *BRINGERS)
    return found
