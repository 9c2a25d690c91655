"""What webhooks may not be, for the test that asks the database itself."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.webhooks.models import AllowedHost, Delivery, Endpoint, Secret, Told, Try
from tests.cast import Cast


def an_endpoint(cast: Cast, **facts: Any) -> Endpoint:
    whole = {"name": "Other", "url": "https://hooks.example.org/", "families": "keys", **facts}
    return Endpoint.objects.create(made_by=cast.administrator, **whole)


def a_host(cast: Cast, times: int = 1, **facts: Any) -> None:
    for _ in range(times):
        AllowedHost.objects.create(
            site=cast.north, name="hooks.example.org", made_by=cast.administrator, **facts
        )


def two_lasting_secrets(cast: Cast) -> None:
    endpoint = an_endpoint(cast)
    for _ in range(2):
        Secret.objects.create(endpoint=endpoint, sealed="x")


def a_secret_that_ended_before(cast: Cast) -> None:
    ends_at = timezone.now() - timedelta(days=1)
    Secret.objects.create(endpoint=an_endpoint(cast), sealed="x", ends_at=ends_at)


def a_delivery(cast: Cast, times: int = 1, **facts: Any) -> Delivery:
    endpoint = an_endpoint(cast)
    made = [
        Delivery.objects.create(endpoint=endpoint, type="key.cut", body="{}", **facts) for _ in range(times)
    ]
    return made[0]


def a_try_without_a_word(cast: Cast) -> None:
    Try.objects.create(delivery=a_delivery(cast), milliseconds=1)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "host_is_allowed_once_at_a_site": lambda cast: a_host(cast, times=2),
    "allowed_host_has_a_port_that_exists": lambda cast: a_host(cast, port=70_000),
    "endpoint_is_told_of_something": lambda cast: an_endpoint(cast, families=""),
    "endpoint_at_rest_says_since_when": lambda cast: an_endpoint(cast, state="resting"),
    "endpoint_has_one_lasting_secret": two_lasting_secrets,
    "webhook_secret_ends_after_it_was_made": a_secret_that_ended_before,
    "endpoint_is_told_of_an_event_once": lambda cast: a_delivery(cast, times=2, number=1),
    "delivery_that_arrived_says_when": lambda cast: a_delivery(cast, state="delivered"),
    "delivery_try_says_what_came_of_it": a_try_without_a_word,
    "webhooks_have_one_place_in_history": lambda _cast: Told.objects.create(id=2),
}
