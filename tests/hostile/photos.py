"""Photos that are none, or that carry what no photo of ours may (markers: ITU-T T.81, table B.1)."""

import io
import zlib
from collections.abc import Callable
from functools import cache
from random import Random

from PIL import Image

from tests.hostile.workbooks import damaged

REMARK = b"\xff\xe1\x00\x10Exif\x00\x00GPS data"


@cache
def good(is_progressive: bool = False) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(kept, format="JPEG", progressive=is_progressive)
    return kept.getvalue()


def sound(dice: Random) -> bytes:
    return good(dice.random() < 0.5)


def huge_by_word(dice: Random) -> bytes:
    """Sides that its head claims, in a file of some hundred bytes."""
    content = bytearray(good())
    at = content.index(b"\xff\xc0")
    content[at + 5 : at + 9] = dice.choice(
        [b"\xff\xff\xff\xff", b"\x00\x00\x00\x00", b"\x00\x1e\xff\xff", b"\xff\xff\x00\x28"]
    )
    return bytes(content)


def with_segment(dice: Random) -> bytes:
    marker = dice.randrange(0xC0, 0xFF)
    body = dice.randbytes(dice.randrange(0, 300))
    length = dice.choice([len(body) + 2, 0, 1, 2, 0xFFFF])
    segment = bytes([0xFF, marker]) + length.to_bytes(2, "big") + body
    return good()[:2] + segment + good()[2:]


def many_segments(dice: Random) -> bytes:
    return (
        good()[:2]
        + dice.choice([b"\xff\xfe\x00\x02", b"\xff\xdb\x00\x02", b"\xff\xff"]) * 300_000
        + good()[2:]
    )


def two_pictures(dice: Random) -> bytes:
    return good() + good(dice.random() < 0.5)


def with_tail(dice: Random) -> bytes:
    return good() + dice.choice([b"PK\x03\x04", b"<script>alert(1)</script>", b"\0", dice.randbytes(500)])


def with_camera(_dice: Random) -> bytes:
    return good()[:2] + REMARK + good()[2:]


def other_picture(dice: Random) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", (9, 9)).save(kept, format=dice.choice(["PNG", "GIF", "BMP", "TIFF", "WEBP"]))
    return kept.getvalue()


def other_behind_a_good_head(dice: Random) -> bytes:
    return b"\xff\xd8\xff" + dice.choice(
        [b"\x89PNG\r\n\x1a\n", b"<svg onload='x'/>", zlib.compress(bytes(1 << 20))]
    )


def drawing(_dice: Random) -> bytes:
    return b'<svg xmlns="http://www.w3.org/2000/svg"><image href="http://127.0.0.1:9/x.png"/></svg>'


def changed(dice: Random) -> bytes:
    return damaged(sound(dice), dice)


def cut_short(dice: Random) -> bytes:
    return good()[: dice.randrange(len(good()))]


MAKERS: tuple[Callable[[Random], bytes], ...] = (
    sound,
    huge_by_word,
    with_segment,
    with_segment,
    many_segments,
    two_pictures,
    with_tail,
    with_camera,
    other_picture,
    other_behind_a_good_head,
    drawing,
    changed,
    changed,
    cut_short,
)
