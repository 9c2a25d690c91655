"""How a file of ours begins: what it is, then a head, which is read before anything is known to be right.

what it is⏎ | length of the head (4 bytes) | head
"""

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from keyctl.lib.errors import Refused

LENGTH_BYTES = 4


@dataclass(frozen=True)
class Beginning:
    magic: bytes
    longest_head: int
    # In the words of a refusal.
    what: str

    def digest(self, head: bytes) -> bytes:
        """What is sealed after it is bound to it."""
        return hashlib.sha256(self.magic + head).digest()

    def write(self, out: BinaryIO, head: bytes) -> None:
        out.write(self.magic + len(head).to_bytes(LENGTH_BYTES, "big") + head)

    def read(self, source: BinaryIO, file: Path) -> bytes:
        if source.read(len(self.magic)) != self.magic:
            raise Refused(f"{file.name} is not {self.what}, or its first bytes were changed.")
        length = int.from_bytes(source.read(LENGTH_BYTES), "big")
        return source.read(min(length, self.longest_head))


def opened(file: Path) -> BinaryIO:
    try:
        return file.open("rb")
    except OSError as error:
        raise Refused(f"{file} cannot be read: {error.strerror}.") from None
