"""What stands on a cutting list: cuts by the order's line numbers. No symbol, no door, no site."""

from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.keys.drawing import ENLARGEMENT, KeyView, view_key
from keyctl.orders.models import OrderLine
from keyctl.systems.models import KeySymbol


@dataclass(frozen=True)
class LineOnList:
    ordinal: int
    count: int
    keyway: str
    view: KeyView


@dataclass(frozen=True)
class CuttingList:
    """Not even the order's title: a finder of the list shall not learn where to try its keys."""

    lines: tuple[LineOnList, ...]
    enlargement: int = ENLARGEMENT

    @property
    def copies(self) -> int:
        return sum(line.count for line in self.lines)

    @property
    def blanks(self) -> list[tuple[str, int]]:
        """How many blanks of each keyway to take from the shelf."""
        taken = Counter[str]()
        for line in self.lines:
            taken[line.keyway] += line.count
        return sorted(taken.items())


Shown = list[tuple[OrderLine, KeySymbol, str]]


def cutting_list(shown: Shown) -> CuttingList:
    return CuttingList(tuple(_line_on_list(line, symbol, bitting) for line, symbol, bitting in shown))


def _line_on_list(line: OrderLine, symbol: KeySymbol, bitting: str) -> LineOnList:
    view = view_key(
        symbol.system.format_id,
        bitting,
        name=f"line{line.ordinal}",
        title=_("Cuts of line {ordinal}").format(ordinal=line.ordinal),
    )
    return LineOnList(line.ordinal, line.count or 0, symbol.system.keyway, view)
