"""Reading the tree of a key system."""

from django.db.models import QuerySet

from keyctl.systems.models import KeySymbol, KeySystem

# A symbol with the masters above it in one query; four levels have three steps between them.
LINE = "parent__parent__parent"


def ancestors(symbol: KeySymbol) -> list[KeySymbol]:
    """The masters above a symbol, nearest first."""
    found: list[KeySymbol] = []
    above = symbol.parent
    while above is not None:
        found.append(above)
        above = above.parent
    return found


def line_of(symbol: KeySymbol) -> list[KeySymbol]:
    """The symbol and the masters above it: the keys that shall turn a core keyed to it."""
    return [symbol, *ancestors(symbol)]


def top_of(system: KeySystem) -> KeySymbol:
    return KeySymbol.objects.get(system=system, level=0)


def control_of(system: KeySystem) -> KeySymbol | None:
    """The system's control key; None where its format has none."""
    return KeySymbol.objects.filter(system=system, kind=KeySymbol.Kind.CONTROL).first()


def children_of(symbol: KeySymbol) -> QuerySet[KeySymbol]:
    return KeySymbol.objects.filter(parent=symbol).order_by("ordinal")
