"""What a person is told: English, which keeps the text it was made of and what fills its places.

So whoever shows it can say the same in another language, and write numbers and lengths as that one does. The
texts are gathered for translators by the names `said` and `counted`.

>>> told = said("{name}: {length} cuts are given.", name=said("control key"), length=1_500)
>>> told
'control key: 1,500 cuts are given.'
>>> told.text, told.facts["length"]
('{name}: {length} cuts are given.', 1500)
>>> counted("position {where}", "positions {where}", 2, where=("1", "4"))
'positions 1, 4'
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Self

__all__ = ["Fact", "Inches", "Said", "counted", "positions_said", "said"]


class Inches(float):
    """A length, told in inches here."""

    def __str__(self) -> str:
        return f"{self:.4f} in"


# Whole numbers are grouped, decimals keep their digits, and several facts stand with commas between them.
Fact = str | int | Decimal | Inches | tuple[Any, ...]


class Said(str):
    """A text as `told` in English; with `number` it has another form, `many`, for all numbers but one."""

    __slots__ = ("facts", "many", "number", "text")
    text: str
    many: str
    number: int | None
    facts: dict[str, Fact]

    def __new__(cls, text: str, many: str, number: int | None, facts: dict[str, Fact]) -> Self:
        chosen = text if number in (None, 1) else many
        told = super().__new__(cls, chosen.format(**{name: _english(fact) for name, fact in facts.items()}))
        told.text, told.many, told.number, told.facts = text, many, number, facts
        return told

    def __getnewargs__(self) -> tuple[Any, ...]:
        return self.text, self.many, self.number, self.facts


def said(text: str, /, **facts: Fact) -> Said:
    """The text with its places filled."""
    return Said(text, text, None, facts)


def counted(one: str, many: str, number: int, /, **facts: Fact) -> Said:
    """The first text for one thing, the second for none and for several; `{number}` stands for how many."""
    return Said(one, many, number, {"number": number} | facts)


def positions_said(positions: Sequence[int]) -> Said:
    """
    >>> positions_said([3]), positions_said([1, 4])
    ('position 3', 'positions 1, 4')
    """
    return counted(
        "position {positions}", "positions {positions}", len(positions), positions=tuple(positions)
    )


def _english(fact: Fact) -> str:
    if isinstance(fact, tuple):
        return ", ".join(map(_english, fact))
    return f"{fact:,}" if isinstance(fact, int) else str(fact)
