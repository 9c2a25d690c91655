"""Reading the frame of a JPEG (ITU-T T.81): how large the picture is, and that nothing else is there.

The data of the picture is not decoded. What a camera writes beside it, such as the place, is refused, and so
is anything behind its end.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused

LONGEST_SIDE = 1600
START, END, SCAN, COMMENT = 0xD8, 0xD9, 0xDA, 0xFE
# Sequential and progressive, Huffman coded: what browsers write and read.
FRAMES = {0xC0, 0xC1, 0xC2}
TABLES = {0xC4, 0xDB, 0xDD}
# How the picture is to be shown: JFIF, a colour profile, and which colours.
HARMLESS = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
REMARKS = {*range(0xE0, 0xF0), COMMENT}
# In the data of a scan a marker is an FF that is neither stuffed, filled up nor the mark of a restart.
NEXT_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")


@dataclass(frozen=True)
class Frame:
    width: int
    height: int


def read_frame(content: bytes) -> Frame:
    """Refuses, with a sentence, whatever is no plain JPEG of a size that is taken."""
    if not content.startswith(b"\xff\xd8\xff"):
        raise Refused(_("This is no JPEG. Only JPEG pictures are taken."))
    frames = []
    has_scan = False
    for marker, body in _segments(content):
        if marker in FRAMES:
            frames.append(_frame(body))
        elif marker == SCAN:
            has_scan = True
        else:
            _refuse_remarks(marker, body)
        if has_scan and not frames:
            raise _Broken
    if len(frames) != 1 or not has_scan:
        raise _Broken
    return frames[0]


class _Broken(Refused):
    def __init__(self) -> None:
        super().__init__(_("This JPEG is damaged or of a kind that is not taken. Take the photo again."))


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """Each marker with what belongs to it, up to the end of the picture, which is the end of the file."""
    at = 2
    while True:
        marker = _marker(content, at)
        if marker == END:
            if len(content) != at + 2:
                raise Refused(_("Something hangs behind the picture in this JPEG. Take the photo again."))
            return
        end = at + 2 + int.from_bytes(content[at + 2 : at + 4], "big")
        if not at + 4 <= end <= len(content):
            raise _Broken
        yield marker, content[at + 4 : end]
        at = _after_data(content, end) if marker == SCAN else end


def _marker(content: bytes, at: int) -> int:
    if content[at : at + 1] != b"\xff" or at + 1 >= len(content):
        raise _Broken
    return content[at + 1]


def _after_data(content: bytes, at: int) -> int:
    found = NEXT_MARKER.search(content, at)
    if found is None:
        raise _Broken
    return found.start()


def _frame(body: bytes) -> Frame:
    """Precision, height, width, then one or three colours of three bytes each."""
    colours = body[5] if len(body) > 5 else 0
    if colours not in {1, 3} or len(body) != 6 + 3 * colours or body[0] != 8:
        raise _Broken
    frame = Frame(int.from_bytes(body[3:5], "big"), int.from_bytes(body[1:3], "big"))
    if not (frame.width and frame.height):
        raise _Broken
    if max(frame.width, frame.height) > LONGEST_SIDE:
        text = _("This picture is {width} × {height} pixels; at most {most} are taken on a side.")
        raise Refused(text.format(width=frame.width, height=frame.height, most=LONGEST_SIDE))
    return frame


def _refuse_remarks(marker: int, body: bytes) -> None:
    if marker in TABLES or body.startswith(HARMLESS.get(marker, b"\xff\xff")):
        return
    if marker in REMARKS:
        raise Refused(
            _(
                "This JPEG carries remarks of a camera, which may tell the place and the person. Take the"
                " photo with the field app, which draws it anew without them."
            )
        )
    raise _Broken
