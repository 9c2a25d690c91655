"""The frame of a JPEG, read by ourselves and by Pillow, an independent library."""

import io
import random

import pytest
from PIL import Image

from keyctl.field.jpeg import read_frame
from keyctl.lib.errors import Refused

PLACE = 0x8825  # Exif 2.32, 4.6.3: the pointer to where the camera was


def picture(width: int = 60, height: int = 40, mode: str = "RGB") -> Image.Image:
    noise = random.Random(1).randbytes(width * height * len(mode))
    return Image.frombytes(mode, (width, height), noise)


def jpeg(made: Image.Image | None = None, **facts: object) -> bytes:
    kept = io.BytesIO()
    (made or picture()).save(kept, format="JPEG", **facts)
    return kept.getvalue()


@pytest.mark.parametrize(
    "facts",
    [
        {},
        {"progressive": True},
        {"quality": 100, "subsampling": 0},
        {"optimize": True, "restart_marker_rows": 1},
        {"icc_profile": b"x" * 90_000},
        {"dpi": (300, 300)},
    ],
)
@pytest.mark.parametrize("size", [(1, 1), (60, 40), (1600, 7), (3, 1600)])
def test_a_plain_jpeg_is_as_large_as_pillow_says(size: tuple[int, int], facts: dict[str, object]) -> None:
    content = jpeg(picture(*size), **facts)
    frame = read_frame(content)
    assert (frame.width, frame.height) == Image.open(io.BytesIO(content)).size == size


def test_a_grey_one_too() -> None:
    assert read_frame(jpeg(picture(mode="L"))).width == 60


def remarks() -> dict[str, bytes]:
    exif = Image.Exif()
    exif.get_ifd(PLACE)[1] = "N"
    plain = jpeg()
    return {
        "the place": jpeg(exif=exif),
        "a comment": jpeg(comment=b"by Ann"),
        "words of an editor": plain[:2] + b"\xff\xed\x00\x06Phot" + plain[2:],
        "several pictures": plain[:2] + b"\xff\xe2\x00\x06MPF\x00" + plain[2:],
        "a second block in the data": plain[:-2] + b"\xff\xe1\x00\x06Exif" + plain[-2:],
    }


@pytest.mark.parametrize("name", remarks())
def test_what_a_camera_writes_beside_the_picture_is_refused(name: str) -> None:
    with pytest.raises(Refused, match="remarks of a camera"):
        read_frame(remarks()[name])


def test_pillow_sees_the_place_in_what_is_refused() -> None:
    assert Image.open(io.BytesIO(remarks()["the place"])).getexif().get_ifd(PLACE) == {1: "N"}


@pytest.mark.parametrize("kind", ["PNG", "GIF", "WEBP", "BMP", "TIFF"])
def test_no_other_format_is_taken(kind: str) -> None:
    kept = io.BytesIO()
    picture().save(kept, format=kind)
    with pytest.raises(Refused, match="no JPEG"):
        read_frame(kept.getvalue())


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xd8", b"<script>alert(1)</script>", b"\xff\xd8\xff" + b"\0" * 9]
)
def test_what_only_claims_to_be_one_is_refused(content: bytes) -> None:
    with pytest.raises(Refused):
        read_frame(content)


def test_too_many_pixels_are_refused() -> None:
    with pytest.raises(Refused, match="1601 × 1 pixels; at most 1600"):
        read_frame(jpeg(picture(1601, 1)))


def test_four_colours_are_refused() -> None:
    with pytest.raises(Refused, match="of a kind that is not taken"):
        read_frame(jpeg(Image.new("CMYK", (9, 9))))


def test_nothing_hangs_behind_the_picture() -> None:
    with pytest.raises(Refused, match="hangs behind"):
        read_frame(jpeg() + b"PK\x03\x04")


def test_a_piece_of_one_is_refused_wherever_it_is_cut() -> None:
    content = jpeg(picture(8, 8), progressive=True)
    for length in range(len(content)):
        with pytest.raises(Refused):
            read_frame(content[:length])


def test_a_damaged_one_is_refused_or_as_large_as_pillow_says() -> None:
    chance = random.Random(20261126)
    sound, agreed = jpeg(picture(8, 8)), 0
    for _ in range(3000):
        content = bytearray(sound)
        for _ in range(chance.randint(1, 3)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        try:
            frame = read_frame(bytes(content))
            seen = Image.open(io.BytesIO(content)).size
        except (Refused, OSError, SyntaxError, IndexError):
            continue
        assert (frame.width, frame.height) == seen
        agreed += 1
    assert agreed > 500
