"""Columns as they are chosen on a page: ticked, and moved up or down, without a script."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from keyctl.listing.declaring import Column, List


@dataclass(frozen=True)
class Choice:
    column: Column
    is_shown: bool


def choices_of(found: List, shown: Sequence[Column]) -> list[Choice]:
    """Those shown in their order, then the others as the list declares them."""
    others = [column for column in found.columns if column not in shown]
    return [Choice(column, True) for column in shown] + [Choice(column, False) for column in others]


def as_sent(
    found: List, order: Sequence[str], ticked: Sequence[str], moved: Mapping[str, str]
) -> list[Choice]:
    """``moved`` says which column goes up, or down, by one place; ``order`` is that of the page."""
    names = [name for name in dict.fromkeys(order) if name in found.by_column]
    names += [column.name for column in found.columns if column.name not in names]
    for way, step in (("up", -1), ("down", 1)):
        if (name := moved.get(way)) in names:
            at = names.index(name)
            to = min(max(at + step, 0), len(names) - 1)
            names.insert(to, names.pop(at))
    columns = [found.by_column[name] for name in names]
    return [Choice(column, column.heads or column.name in ticked) for column in columns]
