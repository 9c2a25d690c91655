"""Secrets of endpoints, sealed each for its row by a key that works while the vault is sealed."""

from datetime import datetime, timedelta

from cryptography.exceptions import InvalidTag
from django.db.models import Q
from django.utils.translation import gettext as _

from keyctl.accounts import sealing
from keyctl.lib.errors import Refused
from keyctl.webhooks.models import Endpoint, Secret
from keyctl.webhooks.signing import new_secret

# How long a secret that was changed for another goes on signing beside it.
OVERLAP = timedelta(hours=24)


def give_secret(endpoint: Endpoint) -> str:
    """A new secret in force from now on; its text is nowhere kept but sealed."""
    text, row = new_secret(), Secret(endpoint=endpoint)
    row.sealed = sealing.seal(text, _purpose(row))
    row.save(force_insert=True)
    return text


def secrets_in_force(endpoint: Endpoint, now: datetime) -> list[str]:
    """The newest first. Refused where the key they were sealed by is not there any more."""
    rows = endpoint.secrets.filter(Q(ends_at=None) | Q(ends_at__gt=now))
    try:
        return [sealing.unseal(row.sealed, _purpose(row)) for row in rows]
    except (InvalidTag, ValueError):
        raise Refused(
            _(
                "Its secret was sealed by another django.key than the one in the secrets folder. Put that "
                "one back, or change the secret for another and tell the other program."
            )
        ) from None


def _purpose(row: Secret) -> bytes:
    return f"keyctl webhooks 1 {row.pk.hex}".encode()
