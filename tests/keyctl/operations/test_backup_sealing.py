"""Chunks whose order and end are sealed: held against the construction as its paper writes it down, and
against every way of cutting, turning and mixing."""

import io
import os

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from keyctl.operations.backup.sealing import CHUNK_BYTES, Broken, Sealer, open_chunks

KEY, HEAD = bytes(range(32)), b"a head"
WHOLE = CHUNK_BYTES + 16


def sealed(text: bytes, *, step: int = 50_000) -> bytes:
    out = io.BytesIO()
    sealer = Sealer(out, KEY, HEAD)
    for start in range(0, len(text), step):
        sealer.write(text[start : start + step])
    sealer.finish()
    return out.getvalue()


def opened(data: bytes, *, key: bytes = KEY, head: bytes = HEAD) -> bytes:
    return b"".join(open_chunks(io.BytesIO(data), key, head))


def by_the_paper(text: bytes) -> bytes:
    """STREAM (Hoang, Reyhanitabar, Rogaway, Vizár 2015, figure 9): segment i under the nonce of i and a flag
    that only the last one has; a text that fills its segments has no empty one behind them."""
    segments = [text[start : start + 64 * 1024] for start in range(0, len(text), 64 * 1024)] or [b""]
    last = len(segments) - 1
    return b"".join(
        AESGCM(KEY).encrypt((number << 8 | (number == last)).to_bytes(12, "big"), segment, HEAD)
        for number, segment in enumerate(segments)
    )


@pytest.mark.parametrize("length", [0, 1, CHUNK_BYTES - 1, CHUNK_BYTES, CHUNK_BYTES + 1, 3 * CHUNK_BYTES])
def test_the_construction_is_the_paper_s(length: int) -> None:
    text = os.urandom(length)
    assert sealed(text) == by_the_paper(text) == sealed(text, step=7919)
    assert opened(by_the_paper(text)) == text


def test_no_cut_goes_unseen() -> None:
    data = sealed(os.urandom(2 * CHUNK_BYTES + 100))
    cuts = [
        0,
        1,
        15,
        16,
        17,
        WHOLE - 1,
        WHOLE,
        WHOLE + 1,
        WHOLE + 16,
        2 * WHOLE,
        2 * WHOLE + 1,
        len(data) - 1,
    ]
    for cut in cuts:
        with pytest.raises(Broken):
            opened(data[:cut])
    with pytest.raises(Broken, match="was cut off"):
        opened(data[: 2 * WHOLE])


def test_no_other_order_goes_unseen() -> None:
    data = sealed(os.urandom(3 * CHUNK_BYTES + 100))
    parts = [data[start : start + WHOLE] for start in range(0, len(data), WHOLE)]
    one, two, three, last = parts
    for mixed in (
        [two, one, three, last],
        [one, three, two, last],
        [one, two, two, three, last],
        [one, three, last],
        [two, three, last],
        [one, two, last, three],
        [one, two, three, last, last],
    ):
        with pytest.raises(Broken):
            opened(b"".join(mixed))
    with pytest.raises(Broken, match="goes on after its end"):
        opened(sealed(os.urandom(CHUNK_BYTES)) + b"more")


def test_no_turned_bit_goes_unseen() -> None:
    data = bytearray(sealed(os.urandom(CHUNK_BYTES + 200)))
    for place in [0, 1, 5000, CHUNK_BYTES - 1, CHUNK_BYTES, WHOLE - 1, WHOLE, WHOLE + 199, len(data) - 1]:
        for bit in (0, 7):
            data[place] ^= 1 << bit
            with pytest.raises(Broken):
                opened(bytes(data))
            data[place] ^= 1 << bit
    assert opened(bytes(data))


def test_another_key_or_head_opens_nothing() -> None:
    data = sealed(b"text")
    for wrong in ({"key": bytes(32)}, {"head": b"another head"}, {"head": b""}):
        with pytest.raises(Broken):
            opened(data, **wrong)


def test_nothing_is_told_before_it_is_known_to_be_right() -> None:
    text = os.urandom(2 * CHUNK_BYTES)
    data = bytearray(sealed(text))
    data[WHOLE + 1] ^= 1
    chunks = open_chunks(io.BytesIO(bytes(data)), KEY, HEAD)
    assert next(chunks) == text[:CHUNK_BYTES]
    with pytest.raises(Broken, match=f"near byte {WHOLE} "):
        next(chunks)
