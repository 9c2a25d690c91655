"""What was asked for, how far each request came, which key lies aside: plain Python, as the book."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from tests.keyctl.machine.book import CABINET, Book, Key

ASKED, APPROVED, READY, HANDED_OUT = "asked", "approved", "ready", "handed-out"
REFUSED, WITHDRAWN = "refused", "withdrawn"
OPEN = {ASKED, APPROVED, READY}
UNSETTLED = {APPROVED, READY}
MASTER = 1

MANAGERS = {"manager", "second-manager"}


@dataclass
class Asking:
    """One request, for doors that one key opens best; a master is decided by an officer too."""

    asker: str
    taker: int
    symbol: int
    state: str = ASKED
    chosen_by: str = ""
    aside: int | None = None
    order: int | None = None
    given: int | None = None

    @property
    def is_master(self) -> bool:
        return self.symbol == MASTER


@dataclass
class Askings:
    """All requests; ``orders`` says of each line of a cutting order whether it is open. ``rank`` tells which
    of two free copies the product takes first."""

    book: Book
    rank: Callable[[int], Any]
    rows: list[Asking] = field(default_factory=list)
    orders: list[bool] = field(default_factory=list)

    def is_aside(self, key: int, but: Asking | None = None) -> bool:
        return any(row.aside == key for row in self.rows if row is not but)

    def may_choose(self, row: Asking, actor: str) -> bool:
        takes = self.book.takers[row.taker]
        is_turn = row.state == ASKED and not row.chosen_by
        return is_turn and actor in MANAGERS and actor not in {row.asker, takes.user} and takes.active

    def may_agree(self, row: Asking, actor: str) -> bool:
        is_turn = row.state == ASKED and bool(row.chosen_by)
        return is_turn and actor == "officer" and self.book.takers[row.taker].active

    def may_refuse(self, row: Asking, actor: str) -> bool:
        takes = self.book.takers[row.taker]
        if row.state != ASKED or actor in {row.asker, takes.user}:
            return False
        return actor == "officer" if row.chosen_by else actor in MANAGERS

    def may_collect(self, row: Asking, actor: str, key: int) -> bool:
        found = self.book.keys[key]
        return (
            row.state in UNSETTLED
            and found.symbol == row.symbol
            and _lies_sound(found)
            and not self.is_aside(key, but=row)
            and self.book.may_take(actor, row.taker)
        )

    def provide(self, row: Asking) -> None:
        if row.aside is not None and not _lies_sound(self.book.keys[row.aside]):
            row.aside = None
        if row.aside is None:
            free = [nth for nth, key in enumerate(self.book.keys) if self._is_free(nth, key, row.symbol)]
            row.aside = min(free, key=self.rank, default=None)
        if row.aside is None and (row.order is None or not self.orders[row.order]):
            row.order = len(self.orders)
            self.orders.append(True)
        row.state = APPROVED if row.aside is None else READY

    def collect(self, row: Asking, key: int) -> None:
        row.given, row.aside, row.state = key, None, HANDED_OUT
        self._drop(row)

    def end(self, row: Asking, state: str) -> None:
        row.state, row.aside = state, None
        self._drop(row)

    def end_of_taker(self, taker: int) -> None:
        for row in self.open_rows():
            if row.taker == taker:
                self.end(row, WITHDRAWN)

    def cut(self, order: int, key: int) -> None:
        """The line's copy is there: it lies aside for who ordered it, if they still want one."""
        self.orders[order] = False
        for row in self.rows:
            if row.order == order and row.state == APPROVED and row.aside is None:
                row.aside, row.state = key, READY

    def renew(self) -> None:
        """What was promised and is gone or broken meanwhile is looked for again; who asked first is first."""
        for row in self.broken_promises():
            self.provide(row)

    def broken_promises(self) -> list[Asking]:
        waiting = [row for row in self.rows if row.state in UNSETTLED]
        return [
            row for row in waiting if row.aside is not None and not _lies_sound(self.book.keys[row.aside])
        ]

    def open_rows(self) -> Iterable[Asking]:
        return [row for row in self.rows if row.state in OPEN]

    def _is_free(self, nth: int, key: Key, symbol: int) -> bool:
        return key.symbol == symbol and _lies_sound(key) and not self.is_aside(nth)

    def _drop(self, row: Asking) -> None:
        if row.order is not None:
            self.orders[row.order] = False


def _lies_sound(key: Key) -> bool:
    return key.place == CABINET and not key.broken
