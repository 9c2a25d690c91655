"""Versions that a person may look at: those of systems used at one of their sites."""

from uuid import UUID

from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role_somewhere
from keyctl.places.roles import STAFF
from keyctl.versions.models import SystemVersion


def readable_version(actor: User, pk: UUID) -> SystemVersion:
    version = get_object_or_404(SystemVersion.objects.defer("content").select_related("system"), pk=pk)
    require_role_somewhere(actor, version.system.sites.all(), *STAFF)
    return version


def sibling(version: SystemVersion, number: str) -> SystemVersion:
    """Another version of the same system, by its number."""
    if not number.isascii() or not number.isdigit() or len(number) > 9:
        raise Http404
    others = SystemVersion.objects.defer("content").select_related("system")
    return get_object_or_404(others, system=version.system, number=int(number))
