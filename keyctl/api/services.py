"""Making, using and revoking access tokens."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.api.access import reached_sites, require_administrator_of_all
from keyctl.api.credentials import Credential
from keyctl.api.models import Scope, Token
from keyctl.api.networks import Network, read_networks
from keyctl.api.windows import refuse_loose
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

# Every request notes its use; once a minute tells as much and spares the database a write each.
USE_NOTED_EVERY = timedelta(minutes=1)
TURNED_AWAY_TOLD_EVERY = timedelta(hours=1)


@transaction.atomic
def create_token(
    *,
    actor: User,
    name: str,
    sites: Sequence[Site],
    scopes: Sequence[Scope],
    expires_on: date,
    networks: str = "",
) -> tuple[Token, Credential]:
    """The token and its credential, which is nowhere stored: show it once.

    ``expires_on`` is the last day on which the token works; ``networks`` are where it works from, anywhere
    if there are none.
    """
    bounds = read_networks(networks)
    bound_to = " ".join(str(network) for network in bounds)
    _refuse_facts(sites, scopes, expires_on, bounds)
    require_administrator_of_all(actor, sites)
    credential = Credential.new()
    token = Token.objects.create(
        name=name,
        user=_service_account(credential, name, sites),
        prefix=credential.prefix,
        digest=credential.digest,
        scopes=" ".join(sorted({Scope(scope).value for scope in scopes})),
        created_by=actor,
        expires_at=_end_of(expires_on),
        networks=bound_to,
    )
    where = f" from {bound_to}" if bound_to else ""
    _record(actor, token, sites, "token.made", f"made the access token {name} ({token.scopes}){where}")
    return token, credential


@transaction.atomic
def revoke_token(*, actor: User, token: Token) -> Token:
    token = Token.objects.select_for_update(of=("self",)).select_related("user").get(pk=token.pk)
    sites = list(reached_sites(token))
    require_administrator_of_all(actor, sites)
    if token.is_revoked:
        raise Conflict(_("The token {token} was revoked already. Nothing was changed.").format(token=token))
    token.revoked_at = timezone.now()
    token.save(update_fields=["revoked_at"])
    _record(actor, token, sites, "token.revoked", f"revoked the access token {token}")
    return token


def note_use(token: Token) -> None:
    now = timezone.now()
    if token.was_used_since(now - USE_NOTED_EVERY):
        return
    stale = Q(last_used_at__isnull=True) | Q(last_used_at__lt=now - USE_NOTED_EVERY)
    Token.objects.filter(stale, pk=token.pk).update(last_used_at=now)


@transaction.atomic
def note_turned_away(token: Token) -> None:
    """Somebody has the token's secret and sent it from elsewhere. Told once an hour, without the address: a
    flood of tries must not fill the history, and where people are is not kept in it."""
    now = timezone.now()
    quiet = Q(turned_away_at__isnull=True) | Q(turned_away_at__lt=now - TURNED_AWAY_TOLD_EVERY)
    if not Token.objects.filter(quiet, pk=token.pk).update(turned_away_at=now):
        return
    words = f"was turned away: the access token {token} was sent from outside its networks"
    _record(token.user, token, list(reached_sites(token)), "token.turned-away", words)


def reach_whole_estate(token: Token) -> None:
    """People belong to no site: a token for people reaches sites that were opened after it was made, too."""
    missing = Site.objects.exclude(pk__in=reached_sites(token))
    if not missing.exists():
        return
    Membership.objects.bulk_create(
        [Membership(user=token.user, site=site, role=Role.INTEGRATION) for site in missing],
        ignore_conflicts=True,
    )


def _refuse_facts(
    sites: Sequence[Site], scopes: Sequence[Scope], expires_on: date, networks: Sequence[Network]
) -> None:
    if not sites:
        raise Refused(_("A token reaches the sites it names: choose one at least."))
    if not scopes:
        raise Refused(_("A token without a scope may do nothing: choose one at least."))
    if Scope.PEOPLE in scopes:
        _refuse_part_of_the_estate(sites, scopes)
    if Scope.PINNING_READ in scopes:
        refuse_loose(scopes, networks, expires_on)
    if expires_on < timezone.localdate():
        raise Refused(_("The last day of the token is over already: choose today or a later day."))


def _refuse_part_of_the_estate(sites: Sequence[Site], scopes: Sequence[Scope]) -> None:
    """What it says of a person holds everywhere; and it reaches new sites, so it carries nothing else."""
    if Site.objects.exclude(pk__in=[site.pk for site in sites]).exists():
        raise Refused(_("A token for people is for the whole estate: choose every site."))
    if len(set(scopes)) > 1:
        raise Refused(_("A token for people does only that: make another token for the rest."))


def _service_account(credential: Credential, name: str, sites: Sequence[Site]) -> User:
    """A user without a password: nobody signs in with it, and history names the integration."""
    user = User.objects.create_user(f"token-{credential.prefix.lower()}", display_name=name)
    Membership.objects.bulk_create(
        Membership(user=user, site=site, role=Role.INTEGRATION) for site in set(sites)
    )
    return user


def _end_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))


def _record(actor: User, token: Token, sites: Sequence[Site], verb: str, sentence: str) -> None:
    """One event for each site, so that each site's history tells it."""
    for site in sites:
        record(actor=actor, verb=verb, sentence=sentence, site_id=site.pk, subjects=[token, site])
