"""What a site's settings of requests come to; a site that set none goes by the defaults."""

from datetime import datetime, timedelta

from django.utils import timezone

from keyctl.approvals.models import KeyRequest, RequestSettings
from keyctl.keys.models import Cabinet
from keyctl.places.models import Site


def settings_of(site: Site) -> RequestSettings:
    found = RequestSettings.objects.select_related("cabinet").filter(site=site).first()
    return found or RequestSettings(site=site)


def names_deciders(request: KeyRequest) -> bool:
    """Whether askers read who decides, or only in which role; no query where the settings came along."""
    found = getattr(request.building.site, "request_settings", None)
    return found.names_deciders if found else True


def cabinet_for(site: Site) -> Cabinet | None:
    """Where copies go that are cut on a request; None where the site has no cabinet at all."""
    return settings_of(site).cabinet or Cabinet.objects.filter(site=site).order_by("name").first()


def collect_until(request: KeyRequest, settings: RequestSettings | None = None) -> datetime | None:
    """When keys that lie ready go back into stock. The time runs from the day they are wanted from."""
    if request.ready_at is None:
        return None
    settings = settings or settings_of(request.building.site)
    return _lies_since(request, request.ready_at) + timedelta(days=settings.collect_days)


def half_time(request: KeyRequest, settings: RequestSettings) -> datetime | None:
    """When half of the time to collect is over."""
    until = collect_until(request, settings)
    return until - timedelta(days=settings.collect_days) / 2 if until else None


def _lies_since(request: KeyRequest, ready_at: datetime) -> datetime:
    ready_on = timezone.localdate(ready_at)
    if request.starts_on is None or request.starts_on <= ready_on:
        return ready_at
    return ready_at + (request.starts_on - ready_on)
