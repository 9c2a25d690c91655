"""A token that may read pins: what it must be like, and who lets it read them for a while.

The scope is worth nothing by itself. A security officer other than whoever made the token opens a window for
it, with a fresh sign-in of their own, for half an hour to a working day.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.api.access import reached_sites
from keyctl.api.models import PinningWindow, Scope, Token
from keyctl.api.networks import Network
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

MOST_DAYS = 30
# A network that is no wider than a large house.
NARROWEST = {4: 16, 6: 48}
# For how long a window may stand open, in minutes.
LASTS = (30, 120, 480)
OPENERS = (Role.OFFICER,)


def refuse_loose(scopes: Iterable[Scope], networks: Sequence[Network], expires_on: date) -> None:
    """For a token that is being made with the scope for pins."""
    if set(scopes) != {Scope.PINNING_READ}:
        raise Refused(_("A token for pins does only that: make another token for the rest."))
    if not networks:
        raise Refused(_("A token for pins works from named networks only: name the machine that needs it."))
    if wide := [str(each) for each in networks if each.prefixlen < NARROWEST[each.version]]:
        raise Refused(
            _("{network} is too wide for a token that reads pins: name the machine that needs it.").format(
                network=wide[0]
            )
        )
    if expires_on > timezone.localdate() + timedelta(days=MOST_DAYS):
        raise Refused(
            _("A token for pins ends within {days} days: choose an earlier last day.").format(days=MOST_DAYS)
        )


@transaction.atomic
def open_window(
    *, actor: User, token: Token, sign_in: FreshSignIn, minutes: int, reason: str
) -> PinningWindow:
    """As good as a look, so it takes the same proof of who says it, and another person than the maker."""
    sign_in.require(actor)
    token = locked_token(token)
    sites = _require_officer_of_all(actor, token)
    _refuse_opening(actor, token, minutes, reason)
    window = PinningWindow.objects.create(
        token=token,
        made_by_id=token.created_by_id,
        opened_by=actor,
        until=timezone.now() + timedelta(minutes=minutes),
        reason=reason.strip()[:300],
    )
    until = f"{timezone.localtime(window.until):%-d %b, %H:%M}"
    _tell(actor, token, sites, "opened", f"let {token} read pins until {until}: {window.reason}")
    return window


@transaction.atomic
def close_window(*, actor: User, token: Token) -> PinningWindow:
    token = locked_token(token)
    sites = _require_officer_of_all(actor, token)
    window = window_of(token)
    if window is None:
        raise Conflict(_("{token} may read no pins just now. Nothing was changed.").format(token=token))
    window.closed_at = timezone.now()
    window.save(update_fields=["closed_at"])
    _tell(actor, token, sites, "closed", f"ended that {token} reads pins")
    return window


def locked_token(token: Token) -> Token:
    """As it is now, until the transaction ends: whoever revokes or closes it waits, or was first."""
    rows = Token.objects.select_for_update(of=("self",)).select_related("user", "created_by")
    return rows.get(pk=token.pk)


def window_of(token: Token, now: datetime | None = None) -> PinningWindow | None:
    open_now = token.windows.filter(closed_at__isnull=True, until__gt=now or timezone.now())
    return open_now.select_related("opened_by").first()


def tokens_for_pins(actor: User) -> QuerySet[Token]:
    """Those that reach a site where the actor is a security officer, newest first."""
    reach = Membership.objects.filter(site__in=Site.objects.for_roles(actor, *OPENERS), role=Role.INTEGRATION)
    tokens = Token.objects.filter(scopes=Scope.PINNING_READ.value, user__in=reach.values("user"))
    sites = Membership.objects.filter(role=Role.INTEGRATION).select_related("site")
    windows = PinningWindow.objects.select_related("opened_by")
    return tokens.select_related("created_by").prefetch_related(
        Prefetch("user__memberships", sites), Prefetch("windows", windows)
    )


def token_for_pins(actor: User, pk: UUID) -> Token:
    return get_object_or_404(tokens_for_pins(actor), pk=pk)


def _require_officer_of_all(actor: User, token: Token) -> list[Site]:
    sites = list(reached_sites(token))
    for site in sites:
        require_role(actor, site, *OPENERS)
    return sites


def _refuse_opening(actor: User, token: Token, minutes: int, reason: str) -> None:
    if not token.carries(Scope.PINNING_READ):
        raise Refused(
            _("{token} carries no scope for pins. Make a token of its own for them.").format(token=token)
        )
    if token.created_by_id == actor.pk:
        raise Refused(_("You made this token yourself. Another security officer lets it read pins."))
    if token.is_revoked or token.is_expired:
        raise Refused(_("{token} no longer works. Nothing was opened.").format(token=token))
    if minutes not in LASTS:
        raise Refused(_("Choose for how long."))
    if not reason.strip():
        raise Refused(_("Say what for: it stays in history."))
    if window_of(token):
        raise Conflict(_("{token} may read pins already. Close that first.").format(token=token))


def _tell(actor: User, token: Token, sites: Sequence[Site], verb: str, sentence: str) -> None:
    """One event for each site, so that each site's history tells it."""
    for site in sites:
        record(
            actor=actor,
            verb=f"token.pins_{verb}",
            sentence=sentence[:400],
            site_id=site.pk,
            subjects=[token, site],
        )
