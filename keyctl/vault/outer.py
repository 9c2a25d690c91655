"""The outer key: 32 bytes from a file or the environment, apart from the data. It only wraps other keys."""

import base64
import functools
import hashlib
import os
from pathlib import Path

from django.conf import settings

from keyctl.lib import env
from keyctl.vault.errors import BadKey, Sealed

KEY_BYTES = 32


def outer_key() -> bytes:
    return decoded_key(os.environ.get("KEYCTL_VAULT_KEY") or _key_file_text(settings.VAULT_KEY_FILE))


def name_of(key: bytes) -> str:
    """Tells one outer key from another and nothing of it: it is random, and longer than anybody tries."""
    return hashlib.sha256(b"keyctl|outer key|" + key).hexdigest()[:16]


def is_sealed() -> bool:
    try:
        outer_key()
    except Sealed:
        return True
    return False


def make_key_if_missing() -> bool:
    """Make the outer key of a new installation; True where one was made."""
    if os.environ.get("KEYCTL_VAULT_KEY") or settings.VAULT_KEY_FILE.exists():
        return False
    write_key(settings.VAULT_KEY_FILE)
    return True


def write_key(file: Path) -> None:
    """A new key into a file of its own; an existing file is left alone (``FileExistsError``)."""
    env.write_secret(file, base64.urlsafe_b64encode(os.urandom(KEY_BYTES)).decode())


@functools.cache
def decoded_key(text: str) -> bytes:
    try:
        key = base64.urlsafe_b64decode(text)
    except ValueError:
        raise BadKey from None
    if len(key) != KEY_BYTES:
        raise BadKey
    return key


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
