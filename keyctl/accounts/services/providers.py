"""Whose sign-in an identity provider's subject is."""

from allauth.socialaccount.models import SocialAccount
from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.services import record


@transaction.atomic
def tie_to_provider(*, email: str, account: SocialAccount) -> User | None:
    """The one person of that address, from now on by subject alone. None where nobody is it, or several are.

    Who is tied to a subject already is not tied to a second: an address passes from hand to hand.
    """
    found = list(User.objects.select_for_update().filter(email__iexact=email, is_active=True)[:2])
    if len(found) != 1:
        return None
    (user,) = found
    if SocialAccount.objects.filter(user=user, provider=account.provider).exists():
        return None
    account.user = user
    account.save()
    record(
        actor=user,
        verb="account.provider_tied",
        sentence="signed in by the organisation's sign-in for the first time",
        subjects=[user],
    )
    return user
