"""A stream of bytes sealed in chunks whose order and end cannot be changed unseen.

AES-256-GCM in the STREAM construction (Hoang, Reyhanitabar, Rogaway, Vizár: "Online Authenticated-Encryption
and its Nonce-Reuse Misuse-Resistance", CRYPTO 2015): the nonce of a chunk is its number and whether it is the
last. A key seals one stream and no other, so numbers never meet again.
"""

from collections.abc import Iterator
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

CHUNK_BYTES = 64 * 1024
TAG_BYTES = 16
NUMBER_BYTES = 11


class Broken(Exception):
    """The stream is not what was sealed; ``how`` follows "it"."""

    def __init__(self, how: str) -> None:
        super().__init__(how)
        self.how = how


class Sealer:
    """Give it bytes of any length; ``finish`` seals the rest as the end."""

    def __init__(self, out: BinaryIO, key: bytes, head: bytes) -> None:
        self._out, self._cipher, self._head = out, AESGCM(key), head
        self._number, self._waiting = 0, bytearray()

    def write(self, part: bytes) -> None:
        self._waiting += part
        # One chunk is kept back: the end is sealed as the end, also where it fills its chunk.
        while len(self._waiting) > CHUNK_BYTES:
            self._seal(bytes(self._waiting[:CHUNK_BYTES]), is_last=False)
            del self._waiting[:CHUNK_BYTES]

    def finish(self) -> None:
        self._seal(bytes(self._waiting), is_last=True)
        self._waiting.clear()

    def _seal(self, chunk: bytes, *, is_last: bool) -> None:
        self._out.write(self._cipher.encrypt(nonce_of(self._number, is_last), chunk, self._head))
        self._number += 1


def open_chunks(source: BinaryIO, key: bytes, head: bytes) -> Iterator[bytes]:
    """The chunks in order; each is told only once it is known to be right. Raises ``Broken``."""
    cipher, number = AESGCM(key), 0
    chunk = source.read(CHUNK_BYTES + TAG_BYTES)
    while True:
        following = source.read(CHUNK_BYTES + TAG_BYTES)
        yield _opened(cipher, number, chunk, head, is_last=not following)
        if not following:
            return
        chunk, number = following, number + 1


def nonce_of(number: int, is_last: bool) -> bytes:
    return number.to_bytes(NUMBER_BYTES, "big") + bytes([is_last])


def _opened(cipher: AESGCM, number: int, chunk: bytes, head: bytes, *, is_last: bool) -> bytes:
    opened = _tried(cipher, number, chunk, head, is_last)
    if opened is not None:
        return opened
    if _tried(cipher, number, chunk, head, not is_last) is not None:
        raise Broken("was cut off" if is_last else "goes on after its end")
    where = number * (CHUNK_BYTES + TAG_BYTES)
    raise Broken(f"was changed, cut off or put in another order near byte {where} of what is sealed")


def _tried(cipher: AESGCM, number: int, chunk: bytes, head: bytes, is_last: bool) -> bytes | None:
    try:
        return cipher.decrypt(nonce_of(number, is_last), chunk, head)
    except (InvalidTag, ValueError):  # shorter than a tag
        return None
