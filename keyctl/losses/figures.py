"""The counts of a look, kept with the case: a page adds up some cells and counts no rows.

A cell is one combination of what the page of doors may be narrowed by, with its number of rows.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from keyctl.losses.models import CaseDoor, LossCase


@dataclass(frozen=True)
class Cell:
    site: str
    building: str
    door_class: str
    route: str
    takes_out: bool
    is_due: bool
    state: str

    @property
    def is_exposed(self) -> bool:
        return self.state == CaseDoor.State.EXPOSED

    @property
    def in_door(self) -> bool:
        return bool(self.building)

    @classmethod
    def of(cls, row: CaseDoor) -> "Cell":
        return cls(
            site=str(row.site_id),
            building=str(row.building_id or ""),
            door_class=row.door_class,
            route=row.route,
            takes_out=row.withdraws,
            is_due=row.is_due,
            state=row.state,
        )


class Figures:
    """The cells of a case."""

    def __init__(self, cells: Mapping[Cell, int], notes: Mapping[str, int]) -> None:
        self.cells = Counter(dict(cells))
        self.notes = dict(notes)

    @classmethod
    def of(cls, case: LossCase) -> "Figures":
        return cls(_read(case.figures.get("cells", ())), case.figures.get("notes", {}))

    @classmethod
    def counted(cls, rows: Iterable[CaseDoor], notes: Mapping[str, int]) -> "Figures":
        return cls(Counter(Cell.of(row) for row in rows), notes)

    def as_json(self) -> dict[str, Any]:
        cells = [asdict(cell) | {"count": count} for cell, count in self.cells.items()]
        exposed = {cell.site for cell in self.cells}
        return {"cells": cells, "notes": self.notes, "sites": sorted(exposed)}

    def all_cleared(self) -> "Figures":
        """After a proof that found nothing."""
        cells: Counter[Cell] = Counter()
        for cell, count in self.cells.items():
            cells[replace(cell, state=CaseDoor.State.CLEARED)] += count
        return Figures(cells, self.notes)

    @property
    def exposed(self) -> int:
        """Cores that a lost key turned or took out at the last look."""
        return self.count(lambda cell: cell.is_exposed)

    @property
    def exposed_doors(self) -> int:
        return self.count(lambda cell: cell.is_exposed and cell.in_door)

    @property
    def loose(self) -> int:
        """Exposed cores that are in no door."""
        return self.exposed - self.exposed_doors

    @property
    def due(self) -> int:
        return self.count(lambda cell: cell.is_exposed and cell.is_due)

    @property
    def cleared(self) -> int:
        return self.count() - self.exposed

    def count(self, wanted: Callable[[Cell], bool] = lambda _: True) -> int:
        return sum(count for cell, count in self.cells.items() if wanted(cell))

    def by(self, name: str, wanted: Callable[[Cell], bool] = lambda _: True) -> Counter[str]:
        """Rows by one property of the cells."""
        found: Counter[str] = Counter()
        for cell, count in self.cells.items():
            if wanted(cell):
                found[getattr(cell, name)] += count
        return found


def _read(cells: Iterable[Mapping[str, Any]]) -> Counter[Cell]:
    read: Counter[Cell] = Counter()
    for row in cells:
        facts = dict(row)
        count = facts.pop("count")
        read[Cell(**facts)] += count
    return read
