"""Sending something now: a test, or once more what was sent before."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.webhooks.access import require_administrator_of_all
from keyctl.webhooks.kinds import TEST
from keyctl.webhooks.models import Delivery, Endpoint
from keyctl.webhooks.payloads import payload


@transaction.atomic
def send_test(*, actor: User, endpoint: Endpoint) -> Delivery:
    """A message that says nothing but which endpoint it was for; sent with the next round."""
    _refuse_silent(actor, endpoint)
    body = payload(TEST, timezone.now(), {"endpoint": str(endpoint.pk)})
    delivery = Delivery.objects.create(endpoint=endpoint, type=TEST, body=body)
    _tell(actor, endpoint, "tested", f"had a test sent to the webhook {endpoint}")
    return delivery


@transaction.atomic
def replay(*, actor: User, delivery: Delivery) -> Delivery:
    """The same message under the same identifier; a receiver that took it knows it again."""
    delivery = Delivery.objects.select_for_update(of=("self",)).select_related("endpoint").get(pk=delivery.pk)
    _refuse_silent(actor, delivery.endpoint)
    if delivery.state == Delivery.State.WAITING and delivery.next_at <= timezone.now():
        raise Conflict(_("It waits for the next round already."))
    delivery.state, delivery.delivered_at = Delivery.State.WAITING, None
    delivery.attempts, delivery.next_at = 0, timezone.now()
    delivery.save(update_fields=["state", "delivered_at", "attempts", "next_at"])
    _tell(actor, delivery.endpoint, "replayed", f"had {delivery} sent again ({delivery.message_id})")
    return delivery


def _refuse_silent(actor: User, endpoint: Endpoint) -> None:
    endpoint = Endpoint.objects.select_for_update(of=("self",)).get(pk=endpoint.pk)
    require_administrator_of_all(actor, endpoint.sites.all())
    if not endpoint.is_on:
        raise Refused(
            _("{endpoint} is not on: nothing goes out. Turn it on first.").format(endpoint=endpoint)
        )
    # Somebody looks: it is asked now, however long it was not reached.
    Endpoint.objects.filter(pk=endpoint.pk).update(not_before=None)


def _tell(actor: User, endpoint: Endpoint, verb: str, words: str) -> None:
    for site in endpoint.sites.all():
        record(actor=actor, verb=f"webhook.{verb}", sentence=words, site_id=site.pk, subjects=[endpoint])
