"""Endpoints, their secrets and the hosts that may be spoken to."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.models import Link
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Site
from keyctl.webhooks.access import require_administrator_of_all
from keyctl.webhooks.hosts import checked_address, read_name, read_network, rules_for
from keyctl.webhooks.kinds import FAMILIES
from keyctl.webhooks.models import AllowedHost, Endpoint
from keyctl.webhooks.secrets import OVERLAP, give_secret


@transaction.atomic
def allow_host(*, actor: User, site: Site, name: str, port: int = 443, network: str = "") -> AllowedHost:
    """``network``: the one inside the house that the host lies in, where it is not on the open network."""
    require_administrator_of_all(actor, [site])
    name, network = read_name(name), read_network(network)
    if AllowedHost.objects.filter(site=site, name=name, port=port).exists():
        raise Conflict(
            _("{site} lets keyctl speak to {name}, port {port}, already.").format(
                site=site, name=name, port=port
            )
        )
    host = AllowedHost.objects.create(site=site, name=name, port=port, network=network, made_by=actor)
    where = f" in the network {network}" if network else ""
    _tell(actor, host, site, "host_allowed", f"let keyctl speak to {host}{where}")
    return host


@transaction.atomic
def forget_host(*, actor: User, host: AllowedHost) -> None:
    """What waits for it stays waiting, and says why."""
    require_administrator_of_all(actor, [host.site])
    _tell(actor, host, host.site, "host_forgotten", f"lets keyctl speak to {host} no longer")
    host.delete()


@transaction.atomic
def make_endpoint(
    *, actor: User, name: str, url: str, sites: Sequence[Site], families: Sequence[str]
) -> tuple[Endpoint, str]:
    """The endpoint, and its secret to be shown once. It is told of what happens from now on."""
    if not sites or not families or not set(families) <= FAMILIES.keys():
        raise Refused(_("Say at which sites it is told of which events: one of each at least."))
    require_administrator_of_all(actor, sites)
    endpoint = Endpoint(name=name, url=checked_address(url), made_by=actor)
    rules_for(endpoint, sites)
    endpoint.families = " ".join(sorted(set(families)))
    endpoint.told_from = Link.objects.order_by("-number").values_list("number", flat=True).first() or 0
    endpoint.save(force_insert=True)
    endpoint.sites.set(sites)
    secret = give_secret(endpoint)
    _tell_all(actor, endpoint, "made", f"made the webhook {name} ({endpoint.families})")
    return endpoint, secret


@transaction.atomic
def rotate_secret(*, actor: User, endpoint: Endpoint) -> str:
    """Another secret, to be shown once. The one before signs beside it for a day; older ones end now."""
    endpoint = _locked(actor, endpoint)
    now = timezone.now()
    endpoint.secrets.exclude(ends_at=None).filter(ends_at__gt=now).update(ends_at=now)
    endpoint.secrets.filter(ends_at=None).update(ends_at=now + OVERLAP)
    secret = give_secret(endpoint)
    _tell_all(actor, endpoint, "secret_rotated", f"changed the secret of the webhook {endpoint} for another")
    return secret


@transaction.atomic
def turn_off(*, actor: User, endpoint: Endpoint) -> Endpoint:
    """It is told of nothing from here on; what waits is kept, and goes out if it is turned on again."""
    endpoint = _locked(actor, endpoint)
    if endpoint.state == Endpoint.State.OFF:
        raise Conflict(_("{endpoint} is off already.").format(endpoint=endpoint))
    endpoint.state, endpoint.rested_at = Endpoint.State.OFF, None
    endpoint.save(update_fields=["state", "rested_at"])
    _tell_all(actor, endpoint, "turned_off", f"turned the webhook {endpoint} off")
    return endpoint


@transaction.atomic
def turn_on(*, actor: User, endpoint: Endpoint) -> Endpoint:
    """The way back from rest, or from off: what waits is sent with the next round."""
    endpoint = _locked(actor, endpoint)
    if endpoint.is_on:
        raise Conflict(_("{endpoint} is on already.").format(endpoint=endpoint))
    rules_for(endpoint, endpoint.sites.all())
    endpoint.state, endpoint.rested_at, endpoint.failing_since = Endpoint.State.ON, None, None
    endpoint.misses, endpoint.not_before = 0, None
    endpoint.save(update_fields=["state", "rested_at", "failing_since", "misses", "not_before"])
    endpoint.deliveries.waiting().update(next_at=timezone.now())
    _tell_all(actor, endpoint, "turned_on", f"turned the webhook {endpoint} on again")
    return endpoint


def _locked(actor: User, endpoint: Endpoint) -> Endpoint:
    locked = Endpoint.objects.select_for_update(of=("self",)).get(pk=endpoint.pk)
    require_administrator_of_all(actor, locked.sites.all())
    return locked


def _tell_all(actor: User, endpoint: Endpoint, verb: str, words: str) -> None:
    """In the history of each site that it is told of. Not its address: it may hold a secret of others."""
    for site in endpoint.sites.all():
        _tell(actor, endpoint, site, verb, words)


def _tell(actor: User, thing: Endpoint | AllowedHost, site: Site, verb: str, words: str) -> None:
    record(actor=actor, verb=f"webhook.{verb}", sentence=words, site_id=site.pk, subjects=[thing])
