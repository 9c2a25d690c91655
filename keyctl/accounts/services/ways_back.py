"""A way back in for somebody who lost every factor, or the password: made at the machine, for one use."""

import secrets
from datetime import timedelta
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User, WayBack
from keyctl.accounts.services.factors import reset_factors
from keyctl.audit.services import record
from keyctl.lib.errors import Refused

HOLDS_FOR = timedelta(minutes=30)
NOT_TAKEN = "The name and the code do not belong together, or the code was used or is too old."


@transaction.atomic
def make_way_back(*, user: User) -> str:
    """Whoever sits at the machine made it, so history names nobody. Codes from before hold no more."""
    if not user.is_active:
        raise Refused(f"The sign-in of {user} has ended. Open it again first.")
    code = "-".join(secrets.token_hex(4) for _ in range(4))
    WayBack.objects.filter(user=user, used_at=None).delete()
    WayBack.objects.create(user=user, digest=_digest(code), expires_at=timezone.now() + HOLDS_FOR)
    record(
        actor=None,
        verb="account.way_back_made",
        sentence=f"made a way back in for {user}, at the machine",
        subjects=[user],
    )
    return code


@transaction.atomic
def find_way_back(*, username: str, code: str) -> WayBack:
    found = WayBack.objects.select_related("user").filter(
        digest=_digest(code.strip().lower()),
        user__username__iexact=username,
        user__is_active=True,
        used_at=None,
        expires_at__gt=timezone.now(),
    )
    way = found.first()
    if way is None:
        raise Refused(NOT_TAKEN)
    return way


@transaction.atomic
def take_way_back(*, way: WayBack, new_password: str) -> User:
    """A new password, no factors, no sessions: the person signs in and adds a factor anew."""
    taken = WayBack.objects.filter(pk=way.pk, used_at=None, expires_at__gt=timezone.now())
    if not taken.update(used_at=timezone.now()):
        raise Refused(NOT_TAKEN)
    user = way.user
    user.set_password(new_password)
    user.save(update_fields=["password"])
    reset_factors(actor=user, user=user, why="coming back in by a code made at the machine")
    return user


def _digest(code: str) -> str:
    return sha256(code.encode()).hexdigest()
