"""An endpoint that has failed for too long rests, and administrators are told; what is old is thrown away."""

from datetime import datetime, timedelta

from django.utils.translation import gettext_noop

from keyctl.audit.services import record
from keyctl.lib.retold import kept_text
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at
from keyctl.webhooks.models import Delivery, Endpoint

KEPT_FOR = timedelta(days=90)
WAITS_AT_MOST = timedelta(days=30)
CLEARED = kept_text(gettext_noop("Deliveries given up: {given_up}, thrown away: {count}."))


def put_to_rest(endpoint: Endpoint, now: datetime) -> None:
    """What waits is kept, and what happens meanwhile: it goes out once somebody turns it on again."""
    endpoint.state, endpoint.rested_at = Endpoint.State.RESTING, now
    endpoint.save(update_fields=["state", "rested_at"])
    for site in endpoint.sites.all():
        record(
            actor=None,
            verb="webhook.rested",
            sentence=f"put the webhook {endpoint} to rest: nothing it was told arrived",
            site_id=site.pk,
            subjects=[endpoint],
        )
        for keeper in people_at(site, Role.ADMINISTRATOR):
            send_notice(
                to=mail_of(keeper),
                name=keeper.display_name,
                kind="webhook-rests",
                template="webhook_rests",
                facts={"endpoint": endpoint, "site": site},
                site=site,
                about=[endpoint],
                once_key=f"webhook {endpoint.pk} {now.isoformat()} {keeper.pk}",
            )


def clear_old(now: datetime) -> str:
    """The routine. What waited a month for an endpoint that nobody turned on again is given up."""
    stale = Delivery.objects.waiting().filter(written_at__lt=now - WAITS_AT_MOST)
    given_up = stale.update(state=Delivery.State.FAILED)
    old = Delivery.objects.exclude(state=Delivery.State.WAITING).filter(written_at__lt=now - KEPT_FOR)
    count = old.count()
    old.delete()
    return CLEARED.format(given_up=given_up, count=count)
