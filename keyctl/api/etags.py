"""Entity tags (RFC 9110, 8.8.3): strong, made from the whole representation, so that no version is kept."""

import re
from base64 import urlsafe_b64encode
from collections.abc import Sequence
from hashlib import sha256
from typing import Any

from rest_framework.renderers import JSONRenderer

# entity-tag = [ weak ] DQUOTE *etagc DQUOTE; in a list, parted by commas (RFC 9110, 8.8.3 and 13.1.1).
TAG = re.compile(r'(?P<weak>W/)?"(?P<text>[\x21\x23-\x7e\x80-\xff]*)"')
LIST = re.compile(r'(?:W/)?"[\x21\x23-\x7e\x80-\xff]*"(?:\s*,\s*(?:W/)?"[\x21\x23-\x7e\x80-\xff]*")*')
SIGNS = 22


def tag_of(data: Any, fields: Sequence[str] = ()) -> str:
    """``data`` is the whole representation, whichever fields of it were asked for.

    >>> tag_of({"name": "Plant"}) == tag_of({"name": "Plant"}) != tag_of({"name": "plant"})
    True
    >>> tag_of({"name": "Plant"}, ["name"]).startswith(tag_of({"name": "Plant"})[:-1] + ".")
    True
    """
    state = _digest(JSONRenderer().render(data))
    return f'"{state}.{_digest(",".join(fields).encode())[:8]}"' if fields else f'"{state}"'


def is_well_formed(header: str) -> bool:
    """
    >>> [is_well_formed(text) for text in ('"a"', 'W/"a", "b"', "*", "a", '"a" "b"', "")]
    [True, True, True, False, False, False]
    """
    return header.strip() == "*" or LIST.fullmatch(header.strip()) is not None


def allows_change(if_match: str, tag: str) -> bool:
    """Strong comparison. A tag of some fields only stands for the state of all, and does as well.

    >>> [allows_change(text, '"abc"') for text in ('"x", "abc"', '"abc.fields"', 'W/"abc"', '"ab"', "*")]
    [True, True, False, False, True]
    """
    if if_match.strip() == "*":
        return True
    return any(
        not each["weak"] and f'"{each["text"].partition(".")[0]}"' == tag for each in TAG.finditer(if_match)
    )


def is_known(if_none_match: str, tag: str) -> bool:
    """Weak comparison (RFC 9110, 13.1.2).

    >>> [is_known(text, '"abc"') for text in ('W/"abc"', '"abc.fields"', "*", "")]
    [True, False, True, False]
    """
    if if_none_match.strip() == "*":
        return True
    return any(f'"{each["text"]}"' == tag for each in TAG.finditer(if_none_match))


def _digest(content: bytes) -> str:
    return urlsafe_b64encode(sha256(content).digest()).decode()[:SIGNS]
