"""The key that signs checkpoints (Ed25519): its secret half lies with the secrets, the public half checks."""

import base64
import os

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.lib import env
from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text

KEY_BYTES = 32

# Said to whoever signs, and kept by the routine.
MISSING = kept_text(
    gettext_noop(
        "The key that signs the history is missing. Put {file} back, or name the public key that you noted."
    )
)
NO_KEY = kept_text(gettext_noop("{file} holds no key. Put back the one that was there."))


def make_key() -> None:
    env.write_secret(settings.HISTORY_KEY_FILE, base64.urlsafe_b64encode(os.urandom(KEY_BYTES)).decode())


def has_key() -> bool:
    return bool(settings.HISTORY_KEY_FILE.exists())


def public_key() -> bytes:
    return _key().public_key().public_bytes_raw()


def sign(message: bytes) -> bytes:
    return _key().sign(message)


def is_signed(key: bytes, message: bytes, signature: bytes) -> bool:
    """As the verifier's, a hundred times quicker."""
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def _key() -> Ed25519PrivateKey:
    try:
        text = settings.HISTORY_KEY_FILE.read_text(encoding="ascii").strip()
        return Ed25519PrivateKey.from_private_bytes(base64.urlsafe_b64decode(text))
    except FileNotFoundError:
        raise Refused(_(MISSING).format(file=settings.HISTORY_KEY_FILE)) from None
    except ValueError:
        raise Refused(_(NO_KEY).format(file=settings.HISTORY_KEY_FILE)) from None
