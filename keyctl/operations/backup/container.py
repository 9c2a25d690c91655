"""The file of a backup: a head that anybody may read, then a sealed and compressed stream of lines.

    keyctl backup⏎ | length of the head (4 bytes) | head as JSON | chunks of `sealing`

The head names the format, the file, the moment and the key it was made for. Each chunk is bound to it.
"""

import base64
import hashlib
import json
import os
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from keyctl.lib.errors import Refused
from keyctl.operations.backup import keys
from keyctl.operations.backup.sealing import Broken, Sealer, open_chunks

MAGIC = b"keyctl backup\n"
FORMAT = 1
LENGTH_BYTES = 4
LONGEST_HEAD = 64 * 1024
# The quickest level: what is sealed by the vault does not shrink, the rest does anyway.
LEVEL = 1
READ_AT_ONCE = 256 * 1024
# A photo is one row; nothing that keyctl keeps comes near.
LONGEST_LINE = 512 * 1024 * 1024


@dataclass(frozen=True)
class Head:
    name: str
    made_at: str
    made_for: str
    wrapped: bytes
    # As it stands in the file; what is sealed is bound to it.
    text: bytes

    @property
    def digest(self) -> bytes:
        return hashlib.sha256(MAGIC + self.text).digest()


class LineWriter:
    """Lines into an open file. ``key`` stays with whoever made it, so that they can read it back."""

    def __init__(self, out: BinaryIO, name: str, made_at: str) -> None:
        self.key = os.urandom(keys.KEY_BYTES)
        head = _new_head(name, made_at, self.key)
        out.write(MAGIC + len(head.text).to_bytes(LENGTH_BYTES, "big") + head.text)
        self._sealer = Sealer(out, self.key, head.digest)
        self._packer = zlib.compressobj(LEVEL)

    def write(self, line: bytes) -> None:
        self._sealer.write(self._packer.compress(line + b"\n"))

    def finish(self) -> None:
        self._sealer.write(self._packer.flush())
        self._sealer.finish()


def read_head(file: Path) -> Head:
    with _opened(file) as source:
        return _read_head(source, file)


def read_lines(file: Path, key: bytes) -> Iterator[bytes]:
    """What was written, line by line, in bounded memory."""
    with _opened(file) as source:
        head = _read_head(source, file)
        try:
            yield from _lines(_unpacked(open_chunks(source, key, head.digest)))
        except Broken as broken:
            raise Refused(
                f"{file.name} is not whole: it {broken.how}. Take another copy or backup."
            ) from None


def open_key(file: Path, secret: Path | None = None) -> bytes:
    head = read_head(file)
    return keys.unwrap(head.wrapped, head.made_for, secret)


def _new_head(name: str, made_at: str, key: bytes) -> Head:
    public = keys.public_key()
    wrapped, made_for = keys.wrap(key, public), keys.name_of(public)
    fields = {"format": FORMAT, "name": name, "made_at": made_at, "made_for": made_for}
    text = json.dumps(fields | {"key": base64.b64encode(wrapped).decode()}).encode()
    return Head(name, made_at, made_for, wrapped, text)


def _opened(file: Path) -> BinaryIO:
    try:
        return file.open("rb")
    except OSError as error:
        raise Refused(f"{file} cannot be read: {error.strerror}.") from None


def _read_head(source: BinaryIO, file: Path) -> Head:
    if source.read(len(MAGIC)) != MAGIC:
        raise Refused(f"{file.name} is not a backup of keyctl, or its first bytes were changed.")
    length = int.from_bytes(source.read(LENGTH_BYTES), "big")
    text = source.read(min(length, LONGEST_HEAD))
    head = _parsed(text, file)
    if head.name != file.name:
        raise Refused(
            f"{file.name} was made as {head.name}. Give it its name back: an old backup must not pass for a "
            "newer one."
        )
    return head


def _parsed(text: bytes, file: Path) -> Head:
    try:
        fields: dict[str, Any] = json.loads(text)
        if fields["format"] != FORMAT:
            raise Refused(
                f"{file.name} is of format {fields['format']}; this program reads format {FORMAT}. Use the "
                "release that made it."
            )
        told = (str(fields["name"]), str(fields["made_at"]), str(fields["made_for"]))
        return Head(*told, base64.b64decode(fields["key"], validate=True), text)
    except (KeyError, TypeError, ValueError):
        raise Refused(
            f"The head of {file.name} cannot be read: it was cut off or changed. Take another copy."
        ) from None


def _unpacked(chunks: Iterator[bytes]) -> Iterator[bytes]:
    unpacker = zlib.decompressobj()
    try:
        for chunk in chunks:
            waiting = chunk
            while waiting:
                yield unpacker.decompress(waiting, READ_AT_ONCE)
                waiting = unpacker.unconsumed_tail
        while part := unpacker.decompress(b"", READ_AT_ONCE):
            yield part
    except zlib.error:
        raise Broken("cannot be unpacked") from None
    if not unpacker.eof or unpacker.unused_data:
        raise Broken("does not end where it should")


def _lines(parts: Iterator[bytes]) -> Iterator[bytes]:
    rest: list[bytes] = []
    length = 0
    for part in parts:
        *whole, last = part.split(b"\n")
        for line in whole:
            yield b"".join([*rest, line])
            rest, length = [], 0
        length += len(last)
        if length > LONGEST_LINE:
            raise Broken("holds a line that is too long")
        rest.append(last)
    if length:
        raise Broken("ends within a line")
