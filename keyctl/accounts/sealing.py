"""Secrets of second factors and of webhooks are sealed by keys of their own, from the web server's secret.

Not by the vault: whoever opens a sealed vault must be able to sign in before, and messages go out meanwhile.
Like the vault's key it lies outside of the database, so a copy of the database shows no secret.
"""

import base64
import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.utils.encoding import force_bytes

PURPOSE = b"keyctl second factors 1"
NONCE_BYTES = 12


def seal(text: str, purpose: bytes = PURPOSE) -> str:
    """``purpose`` makes the key another and is wanted again: what one place sealed opens in no other."""
    nonce = os.urandom(NONCE_BYTES)
    sealed = _cipher(settings.SECRET_KEY, purpose).encrypt(nonce, text.encode(), purpose)
    return base64.urlsafe_b64encode(nonce + sealed).decode()


def unseal(sealed: str, purpose: bytes = PURPOSE) -> str:
    """Also what was sealed under a secret key that is on its way out."""
    raw = base64.urlsafe_b64decode(sealed)
    for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        try:
            return _cipher(key, purpose).decrypt(raw[:NONCE_BYTES], raw[NONCE_BYTES:], purpose).decode()
        except InvalidTag:
            continue
    raise InvalidTag


def _cipher(secret: str | bytes, purpose: bytes) -> AESGCM:
    return AESGCM(HKDF(algorithm=SHA256(), length=32, salt=None, info=purpose).derive(force_bytes(secret)))
