"""Where each key is and who has it, kept in plain Python beside the services: no database is asked.

The machine asks the book whether an act should go through before it does it, and holds the database against
the book after each step. Names are small numbers; the machine keeps which record each stands for.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

CABINET, HELD, LOST, DESTROYED = "in-cabinet", "held", "lost", "destroyed"


@dataclass
class Key:
    """One cut copy: its place, the number of who or what has it, and the act it went out by."""

    symbol: int
    place: str
    at: int | None
    broken: bool = False
    act: int | None = None

    def put(self, place: str, at: int | None = None, act: int | None = None) -> None:
        self.place, self.at, self.act = place, at, act


@dataclass
class Taker:
    north: bool = True
    active: bool = True
    user: str = ""


@dataclass
class Deposit:
    act: int
    settled: bool = False


@dataclass
class Book:
    keys: list[Key] = field(default_factory=list)
    takers: list[Taker] = field(default_factory=list)
    # Which cabinets stand at the north site, where all keys belong.
    cabinets: list[bool] = field(default_factory=list)
    deposits: list[Deposit] = field(default_factory=list)
    acts: int = 0

    def cut(self, symbol: int, cabinet: int, count: int) -> None:
        self.keys += [Key(symbol, CABINET, cabinet) for _ in range(count)]

    def in_use(self) -> int:
        return sum(key.place in {CABINET, HELD} for key in self.keys)

    def may_take(self, actor: str, taker: int) -> bool:
        found = self.takers[taker]
        return found.north and found.active and found.user != actor

    def may_issue(self, actor: str, keys: Iterable[int], taker: int) -> bool:
        chosen = [self.keys[each] for each in keys]
        free = all(key.place == CABINET and not key.broken for key in chosen)
        return free and self.may_take(actor, taker)

    def may_transfer(self, actor: str, keys: Iterable[int], taker: int) -> bool:
        chosen = [self.keys[each] for each in keys]
        held = all(key.place == HELD and key.at != taker and not key.broken for key in chosen)
        return held and self.may_take(actor, taker)

    def may_return(self, keys: Iterable[int], cabinet: int) -> bool:
        return self.cabinets[cabinet] and all(self.keys[each].place == HELD for each in keys)

    def may_move(self, keys: Iterable[int], cabinet: int) -> bool:
        chosen = [self.keys[each] for each in keys]
        return self.cabinets[cabinet] and all(key.place == CABINET and key.at != cabinet for key in chosen)

    def hand_over(self, keys: Iterable[int], taker: int) -> None:
        self.acts += 1
        for each in keys:
            self.keys[each].put(HELD, taker, self.acts)

    def take_in(self, keys: Iterable[int], cabinet: int) -> None:
        for each in keys:
            self.keys[each].put(CABINET, cabinet)

    def may_settle(self, deposit: Deposit) -> bool:
        return not deposit.settled and all(key.act != deposit.act for key in self.keys)
