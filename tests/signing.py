"""A sign-in of this very moment, for what asks for one before it shows a bitting."""

from time import time

from django.test import Client
from django.utils import timezone

from keyctl.accounts.fresh import PROOFS, PROVEN, FreshSignIn
from keyctl.accounts.models import User


def proven(user: User) -> FreshSignIn:
    return FreshSignIn(user.pk, timezone.now())


def sign_in(client: Client, user: User, *, ago: float = 0) -> Client:
    """The session of somebody who proved who they are so many seconds ago."""
    client.force_login(user)
    session = client.session
    session[PROVEN] = str(user.pk)
    session[PROOFS] = [{"method": "password", "at": time() - ago}]
    session.save()
    return client
