"""The file of an archive: a head that anybody may read, then the estate, compressed and sealed.

    keyctl estate archive⏎ | length of the head (4 bytes) | head as JSON | chunks of `backup/sealing`

The key of the file is random, and wrapped by one that Argon2id (RFC 9106) makes of the passphrase: whoever
has the file and not the passphrase pays its memory and time for each guess.
"""

import base64
import json
import os
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from argon2.exceptions import HashingError
from argon2.low_level import ARGON2_VERSION, Type, hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from keyctl import __version__
from keyctl.lib.errors import Refused
from keyctl.operations.backup.heads import Beginning, opened
from keyctl.operations.backup.packing import unpack
from keyctl.operations.backup.sealing import Broken

FORMAT = 1
BEGINNING = Beginning(b"keyctl estate archive\n", 16 * 1024, "an archive of an estate")
KEY_BYTES, SALT_BYTES, NONCE_BYTES = 32, 16, 12
SHORTEST_PASSPHRASE = 20
FEWEST_SIGNS = 8


@dataclass(frozen=True)
class Cost:
    """What one guess costs."""

    memory_kib: int
    passes: int
    lanes: int


# Four times the memory of what RFC 9106 recommends where memory is scarce.
COST = Cost(memory_kib=256 * 1024, passes=3, lanes=4)
# A head is read before anything is known to be right: it must not ask for all the memory there is.
MOST = Cost(memory_kib=1024 * 1024, passes=16, lanes=16)
# For each lane (RFC 9106, 3.1).
LEAST_KIB = 8


@dataclass(frozen=True)
class Lock:
    """The head as it stands in the file, and the key that it wraps."""

    text: bytes
    key: bytes

    @property
    def digest(self) -> bytes:
        """What is sealed is bound to it."""
        return BEGINNING.digest(self.text)

    def write_head(self, out: BinaryIO) -> None:
        BEGINNING.write(out, self.text)


def refuse_weak(passphrase: str) -> None:
    """It guards every bitting of the estate in a file that may be tried for years."""
    if len(passphrase) < SHORTEST_PASSPHRASE or len(set(passphrase)) < FEWEST_SIGNS:
        raise Refused(
            f"The passphrase is too short. Take at least {SHORTEST_PASSPHRASE} characters: six words drawn "
            "by lot are good, and can be told over a telephone."
        )


def new_lock(passphrase: str, cost: Cost | None = None) -> Lock:
    refuse_weak(passphrase)
    cost, salt, key = cost or COST, os.urandom(SALT_BYTES), os.urandom(KEY_BYTES)
    fields: dict[str, Any] = {
        "format": FORMAT,
        "release": __version__,
        "cipher": "AES-256-GCM in STREAM",
        "kdf": {"name": "argon2id", "version": ARGON2_VERSION, "salt": _text(salt), **vars(cost)},
    }
    nonce = os.urandom(NONCE_BYTES)
    wrapped = AESGCM(_stretched(passphrase, salt, cost)).encrypt(nonce, key, _bound(fields))
    return Lock(json.dumps(fields | {"key": _text(nonce + wrapped)}).encode(), key)


def open_lock(file: Path, passphrase: str) -> Lock:
    with opened(file) as source:
        text = BEGINNING.read(source, file)
    return Lock(text, _unwrapped(text, file, passphrase))


def read_archive(file: Path, lock: Lock) -> Iterator[bytes]:
    """Line by line, in bounded memory."""
    with opened(file) as source:
        BEGINNING.read(source, file)
        try:
            yield from unpack(source, lock.key, lock.digest)
        except Broken as broken:
            raise Refused(
                f"{file.name} is not whole: it {broken.how}. Take another copy. Nothing was written."
            ) from None


def _unwrapped(text: bytes, file: Path, passphrase: str) -> bytes:
    fields, wrapped, salt, cost = _parsed(text, file)
    try:
        key = AESGCM(_stretched(passphrase, salt, cost))
        return key.decrypt(wrapped[:NONCE_BYTES], wrapped[NONCE_BYTES:], _bound(fields))
    except (InvalidTag, ValueError):
        raise Refused(
            f"The passphrase does not open {file.name}, or the head of the file was changed. Nothing was "
            "written."
        ) from None
    except HashingError:
        raise Refused(
            f"{file.name} cannot be opened here: its passphrase takes {cost.memory_kib // 1024} MiB "
            "of memory, which this machine does not give. Nothing was written."
        ) from None


def _parsed(text: bytes, file: Path) -> tuple[dict[str, Any], bytes, bytes, Cost]:
    """Each field is of its kind and within bounds, or the head is refused."""
    try:
        fields: dict[str, Any] = json.loads(text)
        if fields["format"] != FORMAT:
            raise Refused(
                f"{file.name} is of format {str(fields['format'])[:20]}; this program reads format "
                f"{FORMAT}. Use "
                "the release that made it."
            )
        kdf, wrapped = fields["kdf"], base64.b64decode(fields.pop("key"), validate=True)
        cost = Cost(int(kdf["memory_kib"]), int(kdf["passes"]), int(kdf["lanes"]))
        salt = base64.b64decode(kdf["salt"], validate=True)
        if _is_known(kdf, cost, salt):
            return fields, wrapped, salt, cost
    except (AttributeError, KeyError, OverflowError, RecursionError, TypeError, ValueError):
        pass
    raise Refused(f"The head of {file.name} cannot be read: it was cut off or changed. Take another copy.")


def _is_known(kdf: dict[str, Any], cost: Cost, salt: bytes) -> bool:
    limits = zip(vars(cost).values(), vars(MOST).values(), strict=True)
    is_named = kdf["name"] == "argon2id" and kdf["version"] == ARGON2_VERSION
    is_bounded = all(0 < value <= most for value, most in limits)
    return is_named and len(salt) == SALT_BYTES and is_bounded and cost.memory_kib >= LEAST_KIB * cost.lanes


def _stretched(passphrase: str, salt: bytes, cost: Cost) -> bytes:
    """One way to write each sign, whatever keyboard it came from."""
    return hash_secret_raw(
        unicodedata.normalize("NFC", passphrase).encode(),
        salt,
        time_cost=cost.passes,
        memory_cost=cost.memory_kib,
        parallelism=cost.lanes,
        hash_len=KEY_BYTES,
        type=Type.ID,
        version=ARGON2_VERSION,
    )


def _bound(fields: dict[str, Any]) -> bytes:
    return BEGINNING.digest(json.dumps(fields, sort_keys=True).encode())


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()
