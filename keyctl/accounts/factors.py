"""Who has a second factor, and who must.

Which roles force one, only the apps above know: they register a rule when they start.
"""

from collections.abc import Callable, Iterable
from uuid import UUID

from allauth.mfa.models import Authenticator
from django.conf import settings

from keyctl.accounts.models import User

Rule = Callable[[User], bool]

FORCED = "forced"
# Recovery codes stand in for one of these; alone they are no factor.
FACTORS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
_rules: list[Rule] = []


def register_rule(rule: Rule) -> None:
    if rule not in _rules:
        _rules.append(rule)


def has_second_factor(user: User) -> bool:
    return Authenticator.objects.filter(user_id=user.pk, type__in=FACTORS).exists()


def with_second_factor(people: Iterable[User]) -> set[UUID]:
    """Which of them have one."""
    held = Authenticator.objects.filter(user__in=list(people), type__in=FACTORS)
    return set(held.values_list("user_id", flat=True))


def is_trusted_with_secrets(user: User) -> bool:
    """Whether a role of theirs reveals bittings, or approves keys that open much."""
    return any(rule(user) for rule in _rules)


def must_have_second_factor(user: User) -> bool:
    return settings.SECOND_FACTOR == FORCED and is_trusted_with_secrets(user)


def lacks_second_factor(user: User) -> bool:
    """Forced to have one, and without: nothing but the way to one is open to them."""
    return settings.SECOND_FACTOR == FORCED and not has_second_factor(user) and is_trusted_with_secrets(user)
