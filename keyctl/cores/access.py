"""Who may look at a core. What a role may do to it, the services say."""

from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.access import require_role, require_role_somewhere, visible_sites
from keyctl.places.models import Site
from keyctl.places.roles import STAFF, Role
from keyctl.systems.models import KeySystem

_WITH_PLACES = Prepared(lambda: Core.objects.with_places().filter(pk=Slot("pk")))


def visible_cores(actor: User) -> QuerySet[Core]:
    return Core.objects.at_sites(visible_sites(actor)).with_places()


def readable_core(actor: User, pk: UUID) -> Core:
    return _core_for(actor, pk, *STAFF)


def workable_core(actor: User, pk: UUID) -> Core:
    return _core_for(actor, pk, Role.LOCKSMITH)


def sites_to_work_at(actor: User, system: KeySystem) -> QuerySet[Site]:
    """The sites of a system where the actor pins cores; 404 for a stranger, 403 where there is none."""
    require_role_somewhere(actor, system.sites.all(), Role.LOCKSMITH)
    return Site.objects.for_roles(actor, Role.LOCKSMITH).filter(key_systems=system)


def _core_for(actor: User, pk: UUID, *roles: Role) -> Core:
    core = _WITH_PLACES.first(pk=pk)
    if core is None:
        raise Http404
    require_role(actor, core.site, *roles)
    return core
