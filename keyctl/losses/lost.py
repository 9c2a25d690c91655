"""The keys of a case: which are lost, which of them are still out, which are masters."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self
from uuid import UUID

from keyctl.losses.models import LossCase
from keyctl.systems.models import KeySymbol


@dataclass(frozen=True)
class LostKeys:
    """``out`` are those with a copy that was not found. A found key counts for what it opens: it may have
    been copied meanwhile; it does not count for what is due."""

    symbols: dict[UUID, KeySymbol]
    out: frozenset[UUID]

    @classmethod
    def of(cls, case: LossCase) -> Self:
        rows = case.lost_copies.select_related("symbol__system")
        return cls(
            {row.symbol_id: row.symbol for row in rows},
            frozenset(row.symbol_id for row in rows if row.found_at is None),
        )

    @classmethod
    def among(cls, symbols: Iterable[KeySymbol]) -> Self:
        """As if one copy of each were lost."""
        kept = {symbol.pk: symbol for symbol in symbols}
        return cls(kept, frozenset(kept))

    @property
    def has_master(self) -> bool:
        return any(suffices(symbol) for symbol in self.symbols.values())

    @property
    def sorted(self) -> list[KeySymbol]:
        """Masters first."""
        return sorted(
            self.symbols.values(),
            key=lambda key: (not suffices(key), key.level is None, key.level or 0, key.symbol),
        )


def suffices(symbol: KeySymbol) -> bool:
    """One lost copy of such a key makes a rekey due in any class."""
    return symbol.is_master or symbol.is_control
