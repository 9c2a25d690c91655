"""Sealing bittings: AES-256-GCM, bound to the row and field that hold them, by a data key that has a name.

A sealed value is ``version (1 byte) | name of the key (4) | nonce (12) | ciphertext and tag``. The associated
data is ``keyctl|table|row|field|version|name``, so a value pasted into another row or column does not open.
Values of version 1 have no name: the outer key sealed them itself.
The plaintext is padded to a multiple of 64 bytes: its length must not tell how many pins a core has.
"""

import functools
import hashlib
import hmac
import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.db import models

from keyctl.lib.errors import Refused
from keyctl.vault import ring
from keyctl.vault.errors import Tampered
from keyctl.vault.outer import KEY_BYTES, is_sealed, make_key_if_missing

__all__ = [
    "fingerprint",
    "is_sealed",
    "key_of",
    "make_key_if_missing",
    "seal",
    "seal_bytes",
    "unseal",
    "unseal_bytes",
    "why_closed",
]

NONCE_BYTES = 12
BLOCK_BYTES = 64
LEGACY_VERSION, VERSION = b"\x01", b"\x02"
NAME_BYTES = 4
# How long the head of each version is.
HEADS = {LEGACY_VERSION: 1, VERSION: 1 + NAME_BYTES}


def seal(row: models.Model, field: str, plaintext: str) -> bytes:
    """The sealed form of ``plaintext`` for ``row.field``; the row needs its identifier, not to be saved."""
    return seal_bytes(row, field, plaintext.encode())


def seal_bytes(row: models.Model, field: str, plaintext: bytes) -> bytes:
    """The same for a file."""
    name = ring.current()
    head = LEGACY_VERSION if name is None else VERSION + bytes.fromhex(name)
    name = name or ring.LEGACY
    nonce = os.urandom(NONCE_BYTES)
    place = _place(row, field, head).encode()
    return head + nonce + _cipher_of(ring.key_named(name)).encrypt(nonce, _pad(plaintext), place)


def unseal(row: models.Model, field: str) -> str:
    """The plaintext of ``row.field``. The caller records the reveal before calling."""
    return unseal_bytes(row, field).decode()


def unseal_bytes(row: models.Model, field: str) -> bytes:
    value = bytes(getattr(row, field))
    head = _head(value, row, field)
    nonce, sealed = value[len(head) : len(head) + NONCE_BYTES], value[len(head) + NONCE_BYTES :]
    place = _place(row, field, head)
    try:
        return _unpad(_cipher_of(ring.key_named(_name(head))).decrypt(nonce, sealed, place.encode()))
    except InvalidTag:
        raise Tampered(place) from None


def key_of(value: bytes) -> str:
    """The name of the key that sealed a value; empty where it is no sealed value."""
    value = bytes(value[: 1 + NAME_BYTES])
    if value[:1] == LEGACY_VERSION:
        return ring.LEGACY
    return value[1:].hex() if value[:1] == VERSION else ""


def why_closed() -> str:
    """Why nothing can be sealed or opened just now, in a sentence; empty where it can."""
    try:
        ring.current()
    except Refused as refusal:
        return refusal.sentences[0]
    return ""


def fingerprint(scope: str, text: str) -> str:
    """A keyed digest for a UNIQUE constraint; without the vault key it cannot be searched for."""
    return hmac.digest(_fingerprint_key(ring.digest_key(), scope), text.encode(), hashlib.sha256).hex()


def _head(value: bytes, row: models.Model, field: str) -> bytes:
    head = value[: HEADS.get(value[:1], 0)]
    if head and len(value) > len(head) + NONCE_BYTES:
        return head
    raise Tampered(_place(row, field, value[:1]))


def _name(head: bytes) -> str:
    return head[1:].hex() or ring.LEGACY


def _place(row: models.Model, field: str, head: bytes) -> str:
    place = f"keyctl|{row._meta.db_table}|{row.pk}|{field}|{int.from_bytes(head[:1], 'big')}"
    return f"{place}|{head[1:].hex()}" if head[1:] else place


@functools.cache
def _cipher_of(key: bytes) -> AESGCM:
    return AESGCM(key)


@functools.lru_cache(maxsize=64)
def _fingerprint_key(key: bytes, scope: str) -> bytes:
    derived = HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=None, info=f"fingerprint|{scope}".encode())
    return derived.derive(key)


def _pad(text: bytes) -> bytes:
    """Length first, then the text, then zeros up to a whole block."""
    framed = len(text).to_bytes(4, "big") + text
    return framed + b"\0" * (-len(framed) % BLOCK_BYTES)


def _unpad(padded: bytes) -> bytes:
    return padded[4 : 4 + int.from_bytes(padded[:4], "big")]
