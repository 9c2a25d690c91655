"""Sign-ins of others: whose an administrator may look after, and what they do there."""

from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from keyctl.accounts.factors import FACTORS
from keyctl.accounts.models import User
from keyctl.accounts.services import end_sessions, reset_factors
from keyctl.places.access import administered_sites
from keyctl.places.models import Membership
from keyctl.places.roles import TRUSTED_WITH_SECRETS, Role


@dataclass(frozen=True)
class SignIn:
    user: User
    has_factor: bool
    sessions: int
    is_trusted: bool


def people_kept_by(actor: User) -> QuerySet[User]:
    """Who works at the actor's sites and nowhere else; not themselves, who have pages of their own for it."""
    sites = administered_sites(actor)
    here = Membership.objects.filter(user=OuterRef("pk"), site__in=sites)
    elsewhere = Membership.objects.filter(user=OuterRef("pk")).exclude(site__in=sites)
    programs = Membership.objects.filter(user=OuterRef("pk"), role=Role.INTEGRATION)
    found = User.objects.filter(Exists(here), ~Exists(elsewhere), ~Exists(programs), is_active=True)
    return found.exclude(pk=actor.pk)


def sign_ins_kept_by(actor: User) -> list[SignIn]:
    factors = Authenticator.objects.filter(user_id=OuterRef("pk"), type__in=FACTORS)
    trusted = Membership.objects.filter(user=OuterRef("pk"), role__in=TRUSTED_WITH_SECRETS)
    live = Q(sessions__expire_date__gt=timezone.now())
    rows = people_kept_by(actor).annotate(
        has_factor=Exists(factors), live=Count("sessions", filter=live), is_trusted=Exists(trusted)
    )
    return [
        SignIn(row, row.has_factor, row.live, row.is_trusted) for row in rows.order_by("display_name", "pk")
    ]


@transaction.atomic
def reset_factors_of(*, actor: User, user: User) -> None:
    """They lost them all. They sign in by password, and add one first where their role wants it."""
    _require_keeper(actor, user)
    reset_factors(actor=actor, user=user, why="because they were lost")


@transaction.atomic
def end_sessions_of(*, actor: User, user: User) -> int:
    _require_keeper(actor, user)
    return end_sessions(actor=actor, user=user)


def _require_keeper(actor: User, user: User) -> None:
    if not people_kept_by(actor).filter(pk=user.pk).exists():
        raise PermissionDenied
