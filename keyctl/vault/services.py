"""Sealing bittings: AES-256-GCM, bound to the row and field that hold them.

A sealed value is ``version (1 byte) | nonce (12) | ciphertext and tag``. The associated data is
``keyctl|table|row|field|version``, so that a value pasted into another row or column does not open.
The plaintext is padded to a multiple of 64 bytes: its length must not tell how many pins a core has.
"""

import base64
import functools
import hashlib
import hmac
import os
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.db import models

from keyctl.lib import env
from keyctl.vault.errors import BadKey, Sealed, Tampered

KEY_BYTES = 32
NONCE_BYTES = 12
BLOCK_BYTES = 64
VERSION = b"\x01"


def seal(row: models.Model, field: str, plaintext: str) -> bytes:
    """The sealed form of ``plaintext`` for ``row.field``; the row needs its identifier, not to be saved."""
    return seal_bytes(row, field, plaintext.encode())


def seal_bytes(row: models.Model, field: str, plaintext: bytes) -> bytes:
    """The same for a file."""
    nonce = os.urandom(NONCE_BYTES)
    return VERSION + nonce + _cipher().encrypt(nonce, _pad(plaintext), _place(row, field).encode())


def unseal(row: models.Model, field: str) -> str:
    """The plaintext of ``row.field``. The caller records the reveal before calling."""
    return unseal_bytes(row, field).decode()


def unseal_bytes(row: models.Model, field: str) -> bytes:
    value = bytes(getattr(row, field))
    nonce, sealed = value[1 : 1 + NONCE_BYTES], value[1 + NONCE_BYTES :]
    try:
        if value[:1] != VERSION:
            raise InvalidTag
        return _unpad(_cipher().decrypt(nonce, sealed, _place(row, field).encode()))
    except InvalidTag:
        raise Tampered(_place(row, field)) from None


def fingerprint(scope: str, text: str) -> str:
    """A keyed digest for a UNIQUE constraint; without the vault key it cannot be searched for."""
    return hmac.digest(_fingerprint_key(_key(), scope), text.encode(), hashlib.sha256).hex()


def is_sealed() -> bool:
    try:
        _key()
    except Sealed:
        return True
    return False


def make_key_if_missing() -> bool:
    """Make the vault key of a new installation; True where one was made."""
    if os.environ.get("KEYCTL_VAULT_KEY") or settings.VAULT_KEY_FILE.exists():
        return False
    env.write_secret(settings.VAULT_KEY_FILE, base64.urlsafe_b64encode(os.urandom(KEY_BYTES)).decode())
    return True


def _key() -> bytes:
    return _decoded_key(os.environ.get("KEYCTL_VAULT_KEY") or _key_file_text(settings.VAULT_KEY_FILE))


def _key_file_text(file: Path) -> str:
    """Read again only where the file changed: thousands of bittings are opened in a row."""
    try:
        found = file.stat()
        return _text_of(file, found.st_mtime_ns, found.st_ino)
    except FileNotFoundError:
        raise Sealed from None


@functools.lru_cache(maxsize=1)
def _text_of(file: Path, changed_ns: int, inode: int) -> str:  # noqa: ARG001 (they tell one state from another)
    return file.read_text(encoding="ascii").strip()


@functools.cache
def _decoded_key(text: str) -> bytes:
    try:
        key = base64.urlsafe_b64decode(text)
    except ValueError:
        raise BadKey from None
    if len(key) != KEY_BYTES:
        raise BadKey
    return key


def _cipher() -> AESGCM:
    return _cipher_of(_key())


@functools.cache
def _cipher_of(key: bytes) -> AESGCM:
    return AESGCM(key)


@functools.lru_cache(maxsize=64)
def _fingerprint_key(key: bytes, scope: str) -> bytes:
    derived = HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=None, info=f"fingerprint|{scope}".encode())
    return derived.derive(key)


def _place(row: models.Model, field: str) -> str:
    return f"keyctl|{row._meta.db_table}|{row.pk}|{field}|{VERSION[0]}"


def _pad(text: bytes) -> bytes:
    """Length first, then the text, then zeros up to a whole block."""
    framed = len(text).to_bytes(4, "big") + text
    return framed + b"\0" * (-len(framed) % BLOCK_BYTES)


def _unpad(padded: bytes) -> bytes:
    return padded[4 : 4 + int.from_bytes(padded[:4], "big")]
