"""What a text is: signs that somebody types, and none that steer a terminal, a database or a reader's eye."""

import re

# Control signs but for tab, line ends and the separators that scanners send; halves of pairs; and what turns
# the order of reading round, so that a line shows other than it is (Unicode's UAX 9, explicit formatting).
NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1b\x7f\ud800-\udfff\u202a-\u202e\u2066-\u2069]")
TURNING = dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A)])


def is_text(text: str) -> bool:
    """
    >>> [is_text(text) for text in ("Tür", "two\\nlines", "A\\x00", "\\ud800", "core \\u202e12")]
    [True, True, False, False, False]
    """
    return NO_TEXT.search(text) is None


def without_turning(text: str) -> str:
    """
    >>> without_turning("core \\u202e12")
    'core 12'
    """
    return text.translate(TURNING)
