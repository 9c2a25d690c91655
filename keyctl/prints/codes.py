"""Codes for cameras as drawings for templates; `press/codes.py` has those of long tables."""

import segno
from django.utils.safestring import SafeString, mark_safe

QUIET_ZONE = 4


def qr_svg(text: str, title: str) -> SafeString:
    """A drawing with its quiet zone; ink as attributes, since a print's sheet does not reach into it.

    ``title`` is read aloud in its place.
    """
    code = segno.make_qr(text, error="q", boost_error=False)
    drawing: str = code.svg_inline(border=QUIET_ZONE, omitsize=True, title=title, dark="#000", light="#fff")
    return mark_safe(drawing)  # noqa: S308 (made by segno; holds a path and no text)
