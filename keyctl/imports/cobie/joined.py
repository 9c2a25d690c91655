"""Several spaces in one cell: the form says a comma, files say what they like."""

import re
from typing import Final

# In the order in which they are tried: a name may hold a slash, hardly a semicolon.
SEPARATORS: Final = tuple(re.compile(signs) for signs in (r"[,;\n]", r"[,;:\n|]", r"[,;:\n|/&+]"))


def joined_spaces(text: str, known: dict[str, int]) -> tuple[list[int], list[str]]:
    """The spaces that a cell names in its order, and the names that nobody knows.

    >>> rooms = {"a1": 0, "a2": 1, "b/1": 2}
    >>> joined_spaces("A1, A2", rooms), joined_spaces("A2 ; A1", rooms), joined_spaces("A1/A2", rooms)
    (([0, 1], []), ([1, 0], []), ([0, 1], []))
    >>> joined_spaces("b/1", rooms), joined_spaces("A1, b/1", rooms), joined_spaces("A1, A9", rooms)
    (([2], []), ([0, 2], []), ([0], ['A9']))
    """
    if text.casefold() in known:
        return [known[text.casefold()]], []
    for separator in SEPARATORS:
        names = _parts(text, separator)
        if names and all(name.casefold() in known for name in names):
            break
    else:
        names = _parts(text, SEPARATORS[0])
    places = [known[name.casefold()] for name in names if name.casefold() in known]
    return places, [name for name in names if name.casefold() not in known]


def _parts(text: str, separator: re.Pattern[str]) -> list[str]:
    return [
        part.strip() for part in separator.split(text) if part.strip() and part.strip().casefold() != "n/a"
    ]
