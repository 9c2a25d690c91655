"""Second factors: added, taken away, reset by an administrator; the codes for when they are lost."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from allauth.mfa.webauthn.internal.auth import WebAuthn
from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.factors import has_second_factor, must_have_second_factor
from keyctl.accounts.models import User
from keyctl.accounts.services.sessions import drop_sessions
from keyctl.audit.services import record
from keyctl.lib.errors import Refused

Type = Authenticator.Type


@transaction.atomic
def add_app(*, actor: User, secret: str, code: str, session: str) -> None:
    """An app that makes codes of this secret. Its first code counts as used."""
    _lock(actor)
    if Authenticator.objects.filter(user=actor, type=Type.TOTP).exists():
        raise Refused(_("You have an app for codes already. Take it away first, then add the other one."))
    if not TOTP.activate(actor, secret).validate_code(code):
        raise Refused(_("This is not what the app shows now. Look at its clock, and type the next code."))
    _added(actor, session, "an app for codes")


@transaction.atomic
def add_passkey(*, actor: User, name: str, credential: dict[str, Any], session: str) -> None:
    """The form has checked what the browser answered."""
    _lock(actor)
    WebAuthn.add(actor, name, credential)
    _added(actor, session, f"the passkey {name}")


def _added(actor: User, session: str, what: str) -> None:
    """Whoever signed in elsewhere proved less: those sessions end."""
    record(
        actor=actor,
        verb="account.factor_added",
        sentence=f"added {what} as a second factor",
        subjects=[actor],
        detail={"sessions_ended": drop_sessions(actor, but=session)},
    )


@transaction.atomic
def remove_factor(*, actor: User, factor: Authenticator) -> None:
    """One's own. Recovery codes stand in for a factor, so they go with the last one."""
    _lock(actor)
    kept = Authenticator.objects.filter(user=actor).exclude(pk=factor.pk)
    is_last = not kept.exclude(type=Type.RECOVERY_CODES).exists()
    if is_last and must_have_second_factor(actor):
        raise Refused(_("Your role asks for a second factor, and this is your last. Add another one first."))
    if is_last:
        kept.delete()
    factor.delete()
    record(
        actor=actor,
        verb="account.factor_removed",
        sentence=f"took away {name_of(factor)} as a second factor",
        subjects=[actor],
    )


def name_of(factor: Authenticator) -> str:
    return f"the passkey {factor.wrap().name}" if factor.type == Type.WEBAUTHN else "the app for codes"


@transaction.atomic
def make_recovery_codes(*, actor: User) -> list[str]:
    """New ones; those from before hold no more. They are shown once, on the answer."""
    _lock(actor)
    if not has_second_factor(actor):
        raise Refused(_("Recovery codes stand in for a second factor. Add a passkey or an app first."))
    Authenticator.objects.filter(user=actor, type=Type.RECOVERY_CODES).delete()
    codes: list[str] = RecoveryCodes.activate(actor).generate_codes()
    record(
        actor=actor,
        verb="account.recovery_codes_made",
        sentence="made new recovery codes",
        subjects=[actor],
    )
    return codes


@transaction.atomic
def reset_factors(*, actor: User | None, user: User, why: str) -> None:
    """All factors of a person who lost them, and all sessions. The caller has asked for the right."""
    _lock(user)
    found = Authenticator.objects.filter(user=user)
    count = found.exclude(type=Type.RECOVERY_CODES).count()
    found.delete()
    record(
        actor=actor,
        verb="account.factors_reset",
        sentence=f"took all second factors of {user} away, {why}",
        subjects=[user],
        detail={"factors": count, "sessions_ended": drop_sessions(user)},
    )


def _lock(user: User) -> None:
    """Two browsers of one person change factors one after the other."""
    User.objects.select_for_update().get(pk=user.pk)
