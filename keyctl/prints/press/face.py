"""The face of the long tables: DejaVu Sans Mono, of which each print holds the signs that it uses.

Embedded as a composite font with its mapping back to Unicode (ISO 32000-1, 9.7 and 9.10.3).
"""

import unicodedata
from collections.abc import Iterable
from functools import cache
from io import BytesIO
from typing import Any

from django.conf import settings

FILE = "vendor/dejavu-sans-mono-2.37.ttf"
NAME = "KEYCTL+DejaVuSansMono"
# Of every sign, in thousandths of the size.
ADVANCE = 602
UNITS = 1000
# Read from right to left, or set upon the sign before: what this face cannot do by its widths alone.
TURNING = frozenset({"R", "AL", "AN"})
DROPPED = ["FFTM", "GSUB", "GPOS", "GDEF"]


def width_of(text: str, size: float) -> float:
    return len(text) * size * ADVANCE / UNITS


def covers(text: str) -> bool:
    """Whether the face can set the text, sign by sign."""
    return text.isascii() or all(_is_plain(sign) for sign in text)


def _is_plain(sign: str) -> bool:
    turns = unicodedata.bidirectional(sign) in TURNING or unicodedata.combining(sign) != 0
    return not turns and ord(sign) in _codes()


@cache
def _codes() -> frozenset[int]:
    return frozenset(_open().getBestCmap())


def _open() -> Any:
    from fontTools.ttLib import TTFont

    return TTFont(BytesIO(_content()), lazy=True, recalcTimestamp=False)


@cache
def _content() -> bytes:
    return (settings.BASE_DIR / "static" / FILE).read_bytes()


class Face:
    """The signs of one print: their glyphs, and the font that holds no others."""

    def __init__(self, texts: Iterable[str]) -> None:
        self.signs = "".join(sorted(set().union(*texts, " ")))
        font = _subset(self.signs)
        names: dict[int, str] = font.getBestCmap()
        self._glyphs = {code: f"{font.getGlyphID(name):04x}" for code, name in names.items()}
        self._head = font["head"]
        self._hhea = font["hhea"]
        out = BytesIO()
        font.save(out)
        self.file = out.getvalue()

    def hexed(self, text: str) -> str:
        """The text as the operator that shows it wants it."""
        return text.translate(self._glyphs)

    def facts(self) -> dict[str, Any]:
        """What the descriptor of the font says, in thousandths."""
        scale = UNITS / self._head.unitsPerEm
        edges = (self._head.xMin, self._head.yMin, self._head.xMax, self._head.yMax)
        return {
            "FontBBox": [round(edge * scale) for edge in edges],
            "Ascent": round(self._hhea.ascent * scale),
            "Descent": round(self._hhea.descent * scale),
        }

    def to_unicode(self) -> bytes:
        """What each glyph means, for searching and reading aloud."""
        pairs = [f"<{glyph}> <{chr(code).encode('utf-16-be').hex()}>" for code, glyph in self._glyphs.items()]
        parts = [pairs[start : start + 100] for start in range(0, len(pairs), 100)]
        lines = [f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar" for part in parts]
        return "\n".join((CMAP_HEAD, *lines, CMAP_FOOT)).encode("ascii")


CMAP_HEAD = """/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <ffff>
endcodespacerange"""
CMAP_FOOT = """endcmap
CMapName currentdict /CMap defineresource pop
end
end"""


def _subset(signs: str) -> Any:
    from fontTools.subset import Options, Subsetter

    options = Options()
    options.layout_features, options.name_IDs, options.hinting = [], [], False
    options.notdef_outline = True
    options.drop_tables += DROPPED
    font = _open()
    subsetter = Subsetter(options)
    subsetter.populate(text=signs)
    subsetter.subset(font)
    return font
