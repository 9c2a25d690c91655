"""Lines, compressed and sealed: what backups and archives of the estate have in common behind their heads."""

import zlib
from collections.abc import Iterator
from typing import BinaryIO

from keyctl.operations.backup.sealing import Broken, Sealer, open_chunks

# The quickest level: what is sealed by the vault does not shrink, the rest does anyway.
LEVEL = 1
READ_AT_ONCE = 256 * 1024
# A photo is one row; nothing that keyctl keeps comes near.
LONGEST_LINE = 512 * 1024 * 1024


class Packer:
    """Lines into an open file behind its head, which each chunk is bound to."""

    def __init__(self, out: BinaryIO, key: bytes, head: bytes) -> None:
        self._sealer = Sealer(out, key, head)
        self._packer = zlib.compressobj(LEVEL)

    def write(self, line: bytes) -> None:
        self._sealer.write(self._packer.compress(line + b"\n"))

    def finish(self) -> None:
        self._sealer.write(self._packer.flush())
        self._sealer.finish()


def unpack(source: BinaryIO, key: bytes, head: bytes) -> Iterator[bytes]:
    """What was written, line by line, in bounded memory. Raises ``Broken``."""
    yield from _lines(_unpacked(open_chunks(source, key, head)))


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
