"""What is compared: words without case, accents or signs, and what a word leaves behind for typing errors.

``fold`` takes away what people leave out. ``look`` takes together what people take for one another. ``marks``
are the numbers under which a word is found although it was typed wrongly: of a short word itself and each
way to leave one sign out, of a long one its thirds, of which two wrong signs leave one whole.
"""

import hashlib
import re
import unicodedata
from collections.abc import Iterator

LONGEST_WORD = 40
# From here on a word is found by its thirds, and two errors are forgiven.
LONG = 7
_ALONE = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "æ": "ae", "œ": "oe", "þ": "th", "ð": "d", "ı": "i"})
_ALIKE = str.maketrans("oil", "011")
_RUN = re.compile(r"[^\W_]+")


def fold(text: str) -> str:
    """
    >>> fold("Müller-Straße, SØR"), fold("ÅSA")
    ('muller-strasse, sor', 'asa')
    """
    spread = unicodedata.normalize("NFKD", text.casefold()).casefold().translate(_ALONE)
    return "".join(sign for sign in spread if not unicodedata.combining(sign))


def look(word: str) -> str:
    """
    >>> look("ol1i0")
    '01110'
    """
    return word.translate(_ALIKE)


def squeezed(text: str) -> str:
    """Without anything between its letters and digits.

    >>> squeezed("BCDF-2345 ghjk"), squeezed("%_")
    ('bcdf2345ghjk', '')
    """
    return "".join(_RUN.findall(fold(text)))[:LONGEST_WORD]


def words_of(text: str) -> Iterator[str]:
    """The words of a text, and those with signs in them both ways. An address of mail is none.

    >>> list(words_of("Lab/Wet 1.034 a@b.example"))
    ['labwet', 'lab', 'wet', '1034', '1', '034']
    """
    for chunk in text.split():
        if "@" in chunk:
            continue
        if whole := squeezed(chunk):
            yield whole
            runs = [run[:LONGEST_WORD] for run in _RUN.findall(fold(chunk))]
            yield from runs if len(runs) > 1 else ()


def errors_forgiven(word: str) -> int:
    """
    >>> [errors_forgiven(word) for word in ("b1", "lab", "laboratory")]
    [0, 1, 2]
    """
    return 0 if len(word) < 3 else 1 if len(word) < LONG else 2


def marks(word: str) -> set[int]:
    """Under which a word is kept."""
    seen = look(word)
    if len(seen) < LONG:
        return {_number(each) for each in _shortened(seen)}
    return {_number(f"+{piece}") for piece in _thirds(seen)}


def marks_to_try(word: str) -> set[int]:
    """Under which it is looked for: words that are some signs longer or shorter may be kept otherwise."""
    seen = look(word)
    found = {_number(each) for each in _shortened(seen)} if len(seen) <= LONG else set()
    if len(seen) > LONG - 3:
        lengths = {
            len(piece) for size in range(len(seen) - 2, len(seen) + 3) for piece in _thirds("x" * size)
        }
        found |= {
            _number(f"+{seen[start : start + length]}")
            for length in lengths
            for start in range(len(seen) - length + 1)
        }
    return found


def _shortened(word: str) -> Iterator[str]:
    yield word
    if len(word) > 2:
        yield from {word[:at] + word[at + 1 :] for at in range(len(word))}


def _thirds(word: str) -> tuple[str, str, str]:
    one, two = len(word) // 3, 2 * len(word) // 3
    return word[:one], word[one:two], word[two:]


def _number(text: str) -> int:
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), signed=True)
