"""What the pages of webhooks show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Prefetch, Q, QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.lib.language import Text
from keyctl.places.access import administered_sites
from keyctl.webhooks.access import visible_endpoints
from keyctl.webhooks.models import AllowedHost, Delivery, Endpoint, Try


@dataclass(frozen=True)
class Overview:
    endpoints: QuerySet[Endpoint]
    hosts: QuerySet[AllowedHost]


@dataclass(frozen=True)
class Log:
    """An endpoint's deliveries, newest first, of one state or of all."""

    deliveries: QuerySet[Delivery]
    counts: Sequence[tuple[str, Text, int]]
    state: str
    # Until when the secret before this one is believed too.
    overlap_ends_at: datetime | None


def overview(actor: User) -> Overview:
    sites = administered_sites(actor)
    waiting = Count("deliveries", Q(deliveries__state=Delivery.State.WAITING), distinct=True)
    endpoints = visible_endpoints(actor).annotate(waiting=waiting).prefetch_related("sites")
    return Overview(endpoints, AllowedHost.objects.filter(site__in=sites).select_related("site", "made_by"))


def log_of(endpoint: Endpoint, state: str) -> Log:
    found = dict(endpoint.deliveries.order_by().values_list("state").annotate(Count("pk")))
    counts = [(value, label, found.get(value, 0)) for value, label in Delivery.State.choices]
    rows = endpoint.deliveries.all()
    state = state if state in Delivery.State else ""
    if state:
        rows = rows.filter(state=state)
    last = Prefetch("tries", Try.objects.order_by("-at", "-pk"))
    older = endpoint.secrets.filter(ends_at__gt=timezone.now()).values_list("ends_at", flat=True).first()
    return Log(rows.prefetch_related(last), counts, state, older)
