"""A webhook with a message that was sent, and the host that it listens at."""

from typing import Any

from keyctl.webhooks.models import AllowedHost, Delivery, Endpoint
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    keeper, site = base.cast.administrator, base.cast.north
    host = AllowedHost.objects.create(site=site, name="hooks.example.org", made_by=keeper)
    url = "https://hooks.example.org/keyctl"
    endpoint = Endpoint.objects.create(name="Room booking", url=url, families="keys", made_by=keeper)
    endpoint.sites.add(site)
    delivery = Delivery.objects.create(endpoint=endpoint, type="webhook.test", body="{}")
    return {
        "webhooks:detail": endpoint.pk,
        "webhooks:rotate": endpoint.pk,
        "webhooks:turn-on": endpoint.pk,
        "webhooks:turn-off": endpoint.pk,
        "webhooks:test": endpoint.pk,
        "webhooks:replay": delivery.pk,
        "webhooks:forget-host": host.pk,
    }
