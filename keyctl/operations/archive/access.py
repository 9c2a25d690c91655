"""Who takes the whole estate out of the house: whoever administers every site of it."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.operations.models import EstateArchive
from keyctl.places.access import administered_sites
from keyctl.places.models import Site


def keeps_estate(actor: User) -> bool:
    sites = administered_sites(actor)
    return sites.exists() and not Site.objects.exclude(pk__in=sites.values("pk")).exists()


def require_keeper(actor: User) -> None:
    if not keeps_estate(actor):
        raise PermissionDenied


def readable_archives(actor: User) -> QuerySet[EstateArchive]:
    """The register of them all."""
    require_keeper(actor)
    return EstateArchive.objects.select_related("actor", "file__job")


def own_archive(actor: User, pk: UUID) -> EstateArchive:
    """Nobody else has it made, fetches it or deletes it."""
    require_keeper(actor)
    return get_object_or_404(EstateArchive.objects.select_related("actor"), pk=pk, actor=actor)
