"""Opaque random names for things that can be found or read by a stranger: they must tell nothing."""

import secrets

# No vowels and no 0/1/L/O: nothing spells a word and nothing is misread on a scratched tag.
ALPHABET = "23456789BCDFGHJKMNPQRSTVWXZ"


def new_tag(length: int = 12) -> str:
    """A random tag; 12 signs of 27 are about 57 bits.

    >>> len(new_tag()), set(new_tag()) <= set(ALPHABET)
    (12, True)
    """
    return "".join(secrets.choice(ALPHABET) for _ in range(length))


def clean_tag(text: str) -> str:
    """What a person typed or scanned, as stored.

    >>> clean_tag(" bcdf-2345 ghjk ")
    'BCDF2345GHJK'
    """
    return "".join(sign for sign in text.upper() if sign in ALPHABET)


def grouped(tag: str) -> str:
    """
    >>> grouped("BCDF2345GHJK")
    'BCDF-2345-GHJK'
    """
    return "-".join(tag[start : start + 4] for start in range(0, len(tag), 4))
