"""Codes for cameras as modules that the press draws itself."""

import segno

from keyctl.prints.codes import QUIET_ZONE
from keyctl.prints.paper import POINTS_PER_MM
from keyctl.prints.press.blocks import Code

# 12 mm of code are the least that a phone reads surely; the quiet zone comes on top.
SIDE_MM = 17


def code_of(text: str, words: str) -> Code:
    return Code(text, SIDE_MM * POINTS_PER_MM, words)


def modules_of(code: Code) -> tuple[bytes, ...]:
    """Its rows, dark or light."""
    drawn = segno.make_qr(code.text, error="q", boost_error=False)
    return tuple(bytes(row) for row in drawn.matrix_iter(border=QUIET_ZONE))
