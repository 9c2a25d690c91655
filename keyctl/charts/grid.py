"""A part of a chart as a table, and what is read back from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from keyctl.charts.models import LockChart

LOCKS_ON_A_PAGE = 30
KEYS_ON_A_PAGE = 16
WORDS = {
    "opens": "opens",
    "may": gettext_lazy("may open"),
    "let-in": gettext_lazy("opens, allowed"),
    "out": gettext_lazy("stays out"),
}


@dataclass(frozen=True)
class Square:
    """One pair. ``name`` is its field where the table is a form."""

    key: str
    mark: str  # opens, may, let-in, out
    name: str

    @property
    def words(self) -> str:
        return str(WORDS[self.mark])


@dataclass(frozen=True)
class Grid:
    """One page of locks and one of keys."""

    locks: Page[dict[str, Any]]
    keys: Page[str]
    rows: list[tuple[str, list[Square]]]

    @property
    def is_whole(self) -> bool:
        return self.locks.paginator.num_pages == self.keys.paginator.num_pages == 1


def grid_of(chart: LockChart, asked: QueryDict) -> Grid:
    locks = Paginator(chart.locks, LOCKS_ON_A_PAGE).get_page(asked.get("locks"))
    keys = Paginator(chart.keys, KEYS_ON_A_PAGE).get_page(asked.get("keys"))
    let_in = {(key, lock) for key, lock in chart.findings.get("let_in", [])}
    first_lock, first_key = locks.start_index() - 1, keys.start_index() - 1
    rows = []
    for row, lock in enumerate(locks, max(first_lock, 0)):
        squares = [
            Square(key, _mark(lock, key, let_in), f"m-{row}-{column}")
            for column, key in enumerate(keys, max(first_key, 0))
        ]
        rows.append((lock["id"], squares))
    return Grid(locks, keys, rows)


def _mark(lock: dict[str, Any], key: str, let_in: set[tuple[str, str]]) -> str:
    if key in lock["opens"]:
        return "opens"
    if key in lock["may"]:
        return "let-in" if (key, lock["id"]) in let_in else "may"
    return "out"


def marks_sent(chart: LockChart, sent: QueryDict) -> Iterator[tuple[tuple[str, str], str]]:
    """Every pair of the page that was sent, by the names of its lock and key."""
    for name, mark in sent.items():
        parts = name.split("-")
        if len(parts) == 3 and parts[0] == "m" and parts[1].isdecimal() and parts[2].isdecimal():
            row, column = int(parts[1]), int(parts[2])
            if row < len(chart.locks) and column < len(chart.keys) and mark in {"opens", "may", "out"}:
                yield (chart.locks[row]["id"], chart.keys[column]), str(mark)
