"""What the desk has to do with requests: keys to cut, keys that lie ready, keys that nobody collected."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from keyctl.accounts.models import User
from keyctl.approvals.custom import collect_until, settings_of
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.keys.access import key_sites

State = KeyRequest.State
LISTS = {"cut": State.APPROVED, "ready": State.READY, "lapsed": State.LAPSED}


@dataclass(frozen=True)
class Row:
    request: KeyRequest
    grants: list[Grant]
    until: datetime | None

    @property
    def stuck(self) -> list[Grant]:
        """Keys that are neither there nor being cut."""
        return [grant for grant in self.grants if is_stuck(grant)]


def requests_on(actor: User, show: str) -> QuerySet[KeyRequest]:
    """Longest waiting first, of what lapsed the latest first; for readers of the keys of a site."""
    grants = Grant.objects.select_related("symbol", "reserved_copy__cabinet", "copy", "order_line__order")
    requests = KeyRequest.objects.filter(building__site__in=key_sites(actor), state=LISTS[show])
    return (
        requests.select_related("building__site", "holder", "requester")
        .prefetch_related(Prefetch("grants", queryset=grants.order_by("symbol__symbol")))
        .order_by("-decided_at" if show == "lapsed" else "decided_at", "pk")
    )


def rows_of(requests: list[KeyRequest]) -> list[Row]:
    """Requests of few sites: what holds there is asked once a site."""
    held = {site.pk: settings_of(site) for site in {request.building.site for request in requests}}
    return [
        Row(request, list(request.grants.all()), collect_until(request, held[request.building.site_id]))
        for request in requests
    ]


def counts(actor: User) -> dict[str, int]:
    return {show: requests_on(actor, show).count() for show in LISTS}


def is_stuck(grant: Grant) -> bool:
    is_cut = grant.order_line is not None and grant.order_line.is_open
    return grant.copy_id is None and grant.reserved_copy_id is None and not is_cut
