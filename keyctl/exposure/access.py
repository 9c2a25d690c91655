"""Who may know how exposed cores are: those who answer for them, at the site they answer for."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.places.access import has_role, require_role, require_role_somewhere, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySystem

# Figures; and which keys nearly turn a core, where a cut is off by how much: that is knowledge of bittings.
MAY_SEE = (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)
MAY_LOOK_CLOSER = (Role.LOCKSMITH, Role.OFFICER)


def overseen_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *MAY_SEE)


def overseen_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *MAY_SEE)


def overseen_system(actor: User, pk: UUID) -> KeySystem:
    system = get_object_or_404(KeySystem, pk=pk)
    require_role_somewhere(actor, system.sites.all(), *MAY_SEE)
    return system


def overseen_core(actor: User, pk: UUID) -> Core:
    core = get_object_or_404(Core.objects.with_places(), pk=pk)
    require_role(actor, core.site, *MAY_SEE)
    return core


def may_see(actor: User, core: Core) -> bool:
    return has_role(actor, core.site, *MAY_SEE)


def may_look_closer(actor: User, site: Site) -> bool:
    return has_role(actor, site, *MAY_LOOK_CLOSER)
