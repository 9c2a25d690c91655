"""How many typing errors lie between two words: a sign left out, put in, mistaken, or two changed about."""

from keyctl.search.folding import look


def errors_between(typed: str, word: str, most: int) -> int:
    """As many as are needed, or ``most + 1`` where there are more (optimal string alignment).

    >>> [errors_between("semianr", word, 2) for word in ("seminar", "seminars", "lecture")]
    [1, 2, 3]
    """
    if abs(len(typed) - len(word)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(word) + 1))
    for at, sign in enumerate(typed, 1):
        before, last, row = row, before, [at]
        for other_at, other in enumerate(word, 1):
            cost = min(before[other_at] + 1, row[-1] + 1, before[other_at - 1] + (sign != other))
            if at > 1 and other_at > 1 and sign == word[other_at - 2] and typed[at - 2] == other:
                cost = min(cost, last[other_at - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
    return min(row[-1], most + 1)


def distance(typed: str, word: str, most: int) -> float:
    """The same, but signs that look alike are hardly an error.

    >>> distance("aaio", "aa10", 1), distance("aa11", "aa10", 1)
    (0.25, 1.0)
    """
    plain = errors_between(typed, word, most)
    seen = errors_between(look(typed), look(word), most)
    return float(plain) if plain <= seen else seen + 0.25
