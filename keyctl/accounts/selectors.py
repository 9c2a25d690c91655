"""One's own factors and sessions, as pages show them."""

from dataclasses import dataclass, field

from allauth.mfa.models import Authenticator
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import Session, User


@dataclass
class Factors:
    app: Authenticator | None = None
    passkeys: list[Authenticator] = field(default_factory=list)
    codes_left: int = 0

    @property
    def has_any(self) -> bool:
        return bool(self.app or self.passkeys)


def factors_of(user: User) -> Factors:
    found = Factors()
    for one in Authenticator.objects.filter(user=user).order_by("created_at"):
        if one.type == Authenticator.Type.WEBAUTHN:
            found.passkeys.append(one)
        elif one.type == Authenticator.Type.TOTP:
            found.app = one
        else:
            found.codes_left = len(one.wrap().get_unused_codes())
    return found


def sessions_of(user: User) -> QuerySet[Session]:
    return Session.objects.filter(user=user, expire_date__gt=timezone.now()).order_by("-seen_at")
