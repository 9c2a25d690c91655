"""The pair of keys of backups (X25519): the public half seals them, the secret half opens them.

Whoever holds the server alone reads no old backup once the secret half was moved away; then a drill needs it
by ``--key``. The key of each file is wrapped for the public half by HPKE (RFC 9180).
"""

import base64
import hashlib
import os
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hpke
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from django.conf import settings

from keyctl.lib import env
from keyctl.lib.errors import Refused

KEY_BYTES = 32
WHAT_FOR = b"keyctl backup 1"
SUITE = hpke.Suite(hpke.KEM.X25519, hpke.KDF.HKDF_SHA256, hpke.AEAD.AES_256_GCM)


def make_keys_if_missing() -> bool:
    """The pair of a new installation; True where it was made."""
    if settings.BACKUP_PUBLIC_KEY_FILE.exists():
        return False
    is_new = not settings.BACKUP_KEY_FILE.exists()
    if is_new:
        env.write_secret(settings.BACKUP_KEY_FILE, base64.urlsafe_b64encode(os.urandom(KEY_BYTES)).decode())
    public = _secret_key(settings.BACKUP_KEY_FILE).public_key().public_bytes_raw()
    env.write_secret(settings.BACKUP_PUBLIC_KEY_FILE, base64.urlsafe_b64encode(public).decode())
    return is_new


def has_keys() -> bool:
    return bool(settings.BACKUP_PUBLIC_KEY_FILE.exists())


def name_of(public: bytes) -> str:
    return hashlib.sha256(b"keyctl|backup key|" + public).hexdigest()[:16]


def public_key() -> bytes:
    file = settings.BACKUP_PUBLIC_KEY_FILE
    if not file.exists():
        raise Refused(f"There is no {file}. Run `manage.py backup` once by hand: it makes the keys.")
    return _decoded(file)


def wrap(key: bytes, public: bytes) -> bytes:
    return SUITE.encrypt(key, X25519PublicKey.from_public_bytes(public), WHAT_FOR)


def unwrap(wrapped: bytes, name: str, file: Path | None = None) -> bytes:
    """The key of a file that was sealed for the key called ``name``."""
    file = file or settings.BACKUP_KEY_FILE
    secret = _secret_key(file)
    own = name_of(secret.public_key().public_bytes_raw())
    if own != name:
        raise Refused(
            f"The backup was made for the backup key {name}, and {file} is {own}. Name the right one with "
            "--key."
        )
    try:
        return SUITE.decrypt(wrapped, secret, WHAT_FOR)
    except (InvalidTag, ValueError):
        raise Refused("The head of the backup was changed. Take another copy of the file.") from None


def _secret_key(file: Path) -> X25519PrivateKey:
    if not file.exists():
        raise Refused(
            f"There is no {file}, which opens backups. Put it back, or name where it is kept with --key."
        )
    return X25519PrivateKey.from_private_bytes(_decoded(file))


def _decoded(file: Path) -> bytes:
    try:
        key = base64.urlsafe_b64decode(file.read_text(encoding="ascii").strip())
    except ValueError:
        key = b""
    if len(key) != KEY_BYTES:
        raise Refused(f"{file} is not 32 bytes in base64. Put back the one that was there.")
    return key
