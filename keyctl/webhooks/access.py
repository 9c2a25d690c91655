"""Who keeps webhooks: the administrators of every site that an endpoint is told of."""

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import administered_sites, require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.webhooks.models import AllowedHost, Delivery, Endpoint


def require_administrator_of_all(actor: User, sites: Iterable[Site]) -> None:
    asked = {site.pk for site in sites}
    if administered_sites(actor).filter(pk__in=asked).count() != len(asked):
        raise PermissionDenied


def endpoints_of(sites: QuerySet[Site]) -> QuerySet[Endpoint]:
    """Those that are told of these sites and of no other."""
    reach = Endpoint.sites.through.objects.filter(endpoint=OuterRef("pk"))
    inside, outside = reach.filter(site__in=sites), reach.exclude(site__in=sites)
    return Endpoint.objects.filter(Exists(inside), ~Exists(outside))


def visible_endpoints(actor: User) -> QuerySet[Endpoint]:
    return endpoints_of(administered_sites(actor))


def kept_endpoint(actor: User, pk: UUID) -> Endpoint:
    endpoint = get_object_or_404(Endpoint.objects.select_related("made_by"), pk=pk)
    sites = list(endpoint.sites.all())
    if not Site.objects.for_roles(actor).filter(pk__in=[site.pk for site in sites]).exists():
        raise Http404
    require_administrator_of_all(actor, sites)
    return endpoint


def kept_delivery(actor: User, pk: UUID) -> Delivery:
    delivery = get_object_or_404(Delivery.objects.select_related("endpoint"), pk=pk)
    kept_endpoint(actor, delivery.endpoint_id)
    return delivery


def kept_host(actor: User, pk: UUID) -> AllowedHost:
    host = get_object_or_404(AllowedHost.objects.select_related("site"), pk=pk)
    require_role(actor, host.site, Role.ADMINISTRATOR)
    return host
