"""What `pinning` tells, in the language of whoever reads it.

Its texts are gathered into the catalogue by `said` and `counted` (see `pinning.wording`); they carry the
facts that fill them, so numbers and lengths follow the language, and the units, of the reader too.
"""

from decimal import Decimal

from django.utils.translation import gettext, ngettext

from keyctl.lib.lengths import length
from keyctl.lib.numbers import as_number
from pinning.wording import Fact, Inches, Said


def say(told: str) -> str:
    """Plain texts, as names that people gave, stay as they are."""
    if not isinstance(told, Said):
        return told
    number = told.number
    text = gettext(told.text) if number is None else ngettext(told.text, told.many, number)
    return text.format(**{name: fact_said(fact) for name, fact in told.facts.items()})


def say_open(told: str, name: str) -> tuple[str, Fact | None]:
    """The reason without the position it is about, with "{}" in the place of one fact; and that fact."""
    if isinstance(told, Said) and isinstance(reason := told.facts.get("reason"), Said):
        told = reason
    if not isinstance(told, Said) or name not in told.facts:
        return say(told), None
    return say(Said(told.text, told.many, told.number, told.facts | {name: "{}"})), told.facts[name]


def fact_said(fact: Fact) -> str:
    if isinstance(fact, tuple):
        return ", ".join(map(fact_said, fact))
    if isinstance(fact, Inches):
        return length(float(fact))
    return as_number(fact) if isinstance(fact, int | Decimal) else say(fact)
