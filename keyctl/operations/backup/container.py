"""The file of a backup: a head that anybody may read, then a sealed and compressed stream of lines.

    keyctl backup⏎ | length of the head (4 bytes) | head as JSON | chunks of `sealing`

The head names the format, the release, the file, the moment and the key it was made for. Each chunk is bound
to it.
"""

import base64
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from keyctl import __version__
from keyctl.lib.errors import Refused
from keyctl.operations.backup import keys
from keyctl.operations.backup.heads import Beginning, opened
from keyctl.operations.backup.packing import Packer, unpack
from keyctl.operations.backup.sealing import Broken

FORMAT = 1
BEGINNING = Beginning(b"keyctl backup\n", 64 * 1024, "a backup of keyctl")


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
        return BEGINNING.digest(self.text)


class LineWriter(Packer):
    """Lines into an open file. ``key`` stays with whoever made it, so that they can read it back."""

    def __init__(self, out: BinaryIO, name: str, made_at: str) -> None:
        self.key = os.urandom(keys.KEY_BYTES)
        head = _new_head(name, made_at, self.key)
        BEGINNING.write(out, head.text)
        super().__init__(out, self.key, head.digest)


def read_head(file: Path) -> Head:
    with opened(file) as source:
        return _read_head(source, file)


def read_lines(file: Path, key: bytes) -> Iterator[bytes]:
    """What was written, line by line, in bounded memory."""
    with opened(file) as source:
        head = _read_head(source, file)
        try:
            yield from unpack(source, key, head.digest)
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
    fields = {"format": FORMAT, "release": __version__, "name": name}
    fields |= {"made_at": made_at, "made_for": made_for}
    text = json.dumps(fields | {"key": base64.b64encode(wrapped).decode()}).encode()
    return Head(name, made_at, made_for, wrapped, text)


def _read_head(source: BinaryIO, file: Path) -> Head:
    head = _parsed(BEGINNING.read(source, file), file)
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
