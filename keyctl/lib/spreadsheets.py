"""Texts on their way into a spreadsheet: none of them begins a formula there.

What a spreadsheet takes for the beginning of one, here or once it is saved as plain text: the usual signs,
those that make it look at the next sign, and the wide signs of some keyboards. A list as CSV is written here
alone, a workbook in `prints/workbook.py` alone; a test looks for others.
"""

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "＝", "＋", "－", "＠", "｜")
# Signs that a spreadsheet leaves out, or that nobody sees, hide the one that follows.
UNSEEN = " \u00a0\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"


def begins_formula(text: str) -> bool:
    """
    >>> [begins_formula(text) for text in ("=1+1", "  =1", "\\ufeff@a", "101", "A-1", "")]
    [True, True, True, False, False, False]
    """
    return text.startswith(FORMULA_STARTS) or text.lstrip(UNSEEN).startswith(FORMULA_STARTS)


def harmless(text: str) -> str:
    """
    >>> harmless("=1+1"), harmless("101")
    ("'=1+1", '101')
    """
    return f"'{text}" if begins_formula(text) else text


def as_written(text: str) -> str:
    """What stood there before ``harmless``.

    >>> as_written("'=1+1"), as_written("'tis"), as_written("101")
    ('=1+1', "'tis", '101')
    """
    return text[1:] if text.startswith("'") and begins_formula(text[1:]) else text


def as_csv(rows: Iterable[Sequence[str | int | None]]) -> bytes:
    """RFC 4180, in UTF-8 with the mark by which a spreadsheet knows it. A number begins no formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerows([harmless(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")
