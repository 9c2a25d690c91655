"""Who may ask to see something, who decides, and who reads what was seen."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.models import Permission, Reveal

# An officer may look closer at what a core lets in, with another officer's yes.
SEERS = (Role.LOCKSMITH, Role.OFFICER)
DECIDERS = (Role.OFFICER,)
# Which looks were taken, never what was seen.
READERS = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
SETTERS = (Role.ADMINISTRATOR,)
VISITORS = (*SEERS, Role.AUDITOR, Role.ADMINISTRATOR)


def visited_sites(actor: User) -> QuerySet[Site]:
    """403 for whoever has nothing to do with it at any site."""
    return require_some(Site.objects.for_roles(actor, *VISITORS))


def seeing_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *SEERS)


def deciding_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *DECIDERS)


def reading_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *READERS)


def setting_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *SETTERS)


def readable_reveals(actor: User) -> QuerySet[Reveal]:
    """403 for whoever reads them at no site."""
    sites = require_some(reading_sites(actor))
    return Reveal.objects.filter(site__in=sites).select_related("actor", "site", "second", "permission")


def readable_permission(actor: User, pk: UUID) -> Permission:
    """Whoever asked reads their own, whatever their roles are by now."""
    found = get_object_or_404(Permission.objects.with_names(), pk=pk)
    if found.asked_by_id != actor.pk:
        require_role(actor, found.site, *READERS)
    return found


def decidable_permission(actor: User, pk: UUID) -> Permission:
    found = get_object_or_404(Permission.objects.with_names(), pk=pk)
    require_role(actor, found.site, *DECIDERS)
    return found


def set_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *SETTERS)


def seeing_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *SEERS)
