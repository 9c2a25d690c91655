"""Reading the tree of a key system."""

from django.db.models import QuerySet

from keyctl.engine import MOST_LEVELS
from keyctl.systems.models import KeySymbol, KeySystem

# A symbol with the masters above it in one query; between six levels there are five steps.
LINE = "__".join(["parent"] * (MOST_LEVELS - 1))


def ancestors(symbol: KeySymbol) -> list[KeySymbol]:
    """The masters above a symbol, nearest first."""
    found: list[KeySymbol] = []
    above = symbol.parent
    while above is not None:
        found.append(above)
        above = above.parent
    return found


def line_of(symbol: KeySymbol) -> list[KeySymbol]:
    """The symbol and the masters above it: the keys that shall turn a core keyed to it. What is retired is
    left out of the pins.
    """
    return [key for key in (symbol, *ancestors(symbol)) if not key.is_retired]


def tops_of(system: KeySystem) -> QuerySet[KeySymbol]:
    """The keys that stand under none. A designed system has one; others may have several, or none yet."""
    return KeySymbol.objects.filter(system=system, level=0).order_by("ordinal", "symbol")


def control_of(system: KeySystem) -> KeySymbol | None:
    """The system's control key; None where its format has none."""
    return KeySymbol.objects.filter(system=system, kind=KeySymbol.Kind.CONTROL).first()


def children_of(symbol: KeySymbol) -> QuerySet[KeySymbol]:
    return KeySymbol.objects.filter(parent=symbol).order_by("ordinal")
