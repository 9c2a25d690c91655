"""The rules of custody: every act on copies, by who may and who may not, on keys that can and cannot."""

from collections import Counter
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from keyctl.keys import services
from keyctl.keys.law import breaches
from keyctl.keys.models import Deposit as StoredDeposit
from keyctl.keys.models import KeyCopy
from keyctl.keys.services import Signature
from keyctl.places.models import Site
from tests.keyctl.machine.asked import events_told
from tests.keyctl.machine.book import CABINET, DESTROYED, HELD, LOST, Book, Deposit
from tests.keyctl.machine.world import World, attempt

MOST_KEYS = 9
DRAWN = Signature(path="M10 10L200 40L10 80L90 90L10 120L40 80")
TYPED = Signature("Holder One")
NOBODY = Signature("  ")

some = st.integers(0, 11)
# Mostly people and places that will do; now and then the clerk, and what belongs to the other site.
takers = st.sampled_from([0, 1, 2, 0, 1, 2, 0, 1, 2, 3, 4])
cabinets = st.sampled_from([0, 1, 0, 1, 0, 1, 2])
several = st.lists(some, min_size=1, max_size=2)
clerks = st.sampled_from(["desk", "second", "desk", "second", "desk", "second", "requester"])
reporters = st.sampled_from(["desk", "officer", "desk", "requester"])
signatures = st.sampled_from([TYPED, DRAWN, TYPED, DRAWN, TYPED, NOBODY])
due_in_hours = st.sampled_from([None, 1, 24, None, 2, None, -1])
money = st.sampled_from([0, 0, 0, 500, 0, 0, 2000, 0, -1])

DESK = {"desk", "second"}


class CustodyMachine(RuleBasedStateMachine):
    world: World
    steps = 0
    # How often each act went through, and how often it was refused or forbidden.
    tally: Counter[tuple[str, bool]]

    def __init__(self) -> None:
        super().__init__()
        # Everything a game does is rolled back at its end.
        self.game = transaction.atomic()
        self.game.__enter__()
        self.book: Book = self.world.open_book()
        self.stored: list[Any] = []
        self.played, self.told = 0, events_told()

    def teardown(self) -> None:
        try:
            assert breaches(Site.objects.all()) == []
        finally:
            transaction.set_rollback(True)
            self.game.__exit__(None, None, None)

    @initialize()
    def first_keys(self) -> None:
        for symbol in range(len(self.world.symbols)):
            self._cut("desk", symbol, 0, 2)

    @rule(actor=clerks, symbol=some, cabinet=cabinets, count=st.integers(1, 2))
    @precondition(lambda self: self.book.in_use() < MOST_KEYS)
    def cut(self, actor: str, symbol: int, cabinet: int, count: int) -> None:
        self._cut(actor, symbol % len(self.world.symbols), cabinet, count)

    @rule(actor=clerks, chosen=several, taker=takers, sign=signatures, more=st.tuples(due_in_hours, money))
    def issue(
        self, actor: str, chosen: list[int], taker: int, sign: Signature, more: tuple[int | None, int]
    ) -> None:
        keys, (hours, amount) = self._keys(chosen, CABINET), more
        fits = sign is not NOBODY and hours != -1 and amount >= 0
        act = self.try_it(
            services.issue_keys,
            actor,
            DESK,
            may=fits and self.book.may_issue(actor, keys, taker) and all(map(self.is_free, keys)),
            holder=self.world.holders[taker],
            copies=self._copies(keys),
            signature=sign,
            due_at=_due(hours),
            deposit=amount,
        )
        if act:
            self.book.hand_over(keys, taker)
        if act and amount:
            self.book.deposits.append(Deposit(self.book.acts))
            self.stored.append(act.deposit)

    @rule(actor=clerks, chosen=several, cabinet=cabinets, sign=st.sampled_from([None, None, DRAWN]))
    def give_back(self, actor: str, chosen: list[int], cabinet: int, sign: Signature | None) -> None:
        self._give_back(actor, self._keys(chosen, HELD), cabinet, sign)

    @rule(actor=clerks, chosen=several, taker=takers, sign=signatures)
    def transfer(self, actor: str, chosen: list[int], taker: int, sign: Signature) -> None:
        keys = self._keys(chosen, HELD)
        if self.try_it(
            services.transfer_keys,
            actor,
            DESK,
            may=sign is not NOBODY and self.book.may_transfer(actor, keys, taker),
            to=self.world.holders[taker],
            copies=self._copies(keys),
            signature=sign,
        ):
            self.book.hand_over(keys, taker)

    @rule(actor=reporters, chosen=some)
    def lose(self, actor: str, chosen: int) -> None:
        (key,) = self._keys([chosen], HELD if chosen % 2 else CABINET)
        may = self.book.keys[key].place in {CABINET, HELD}
        if self.try_it(
            services.report_lost, actor, {"desk", "officer"}, may=may, copy=self._copies([key])[0]
        ):
            self.book.keys[key].put(LOST)

    @rule(actor=clerks, chosen=some, cabinet=cabinets)
    def find(self, actor: str, chosen: int, cabinet: int) -> None:
        (key,) = self._keys([chosen], LOST)
        may = self.book.keys[key].place == LOST and self.book.cabinets[cabinet]
        facts = {"copy": self._copies([key])[0], "cabinet": self.world.cabinets[cabinet]}
        if self.try_it(services.take_found, actor, DESK, may=may, **facts):
            self.book.keys[key].put(CABINET, cabinet)

    @rule(actor=clerks, chosen=some, note=st.sampled_from(["Bent.", "Bent.", " "]))
    def find_broken(self, actor: str, chosen: int, note: str) -> None:
        (nth,) = self._keys([chosen])
        key = self.book.keys[nth]
        may = key.place in {CABINET, HELD} and not key.broken and bool(note.strip())
        if self.try_it(services.report_broken, actor, DESK, may=may, copy=self._copies([nth])[0], note=note):
            key.broken = True

    @rule(actor=clerks, chosen=some, reason=st.sampled_from(["Worn.", "Worn.", ""]))
    def destroy(self, actor: str, chosen: int, reason: str) -> None:
        (nth,) = self._keys([chosen], CABINET)
        may = self.book.keys[nth].place == CABINET and bool(reason) and self.is_free(nth)
        if self.try_it(
            services.destroy_copy, actor, DESK, may=may, copy=self._copies([nth])[0], reason=reason
        ):
            self.book.keys[nth].put(DESTROYED)

    @rule(actor=clerks, chosen=several, cabinet=cabinets)
    def move(self, actor: str, chosen: list[int], cabinet: int) -> None:
        keys = self._keys(chosen, CABINET)
        facts = {"copies": self._copies(keys), "cabinet": self.world.cabinets[cabinet]}
        if self.try_it(services.move_copies, actor, DESK, may=self.book.may_move(keys, cabinet), **facts):
            self.book.take_in(keys, cabinet)

    @rule(actor=clerks, which=some, reason=st.sampled_from([None, "Never came back.", ""]))
    @precondition(lambda self: bool(self.stored))
    def settle_deposit(self, actor: str, which: int, reason: str | None) -> None:
        which %= len(self.stored)
        deposit: StoredDeposit = self.stored[which]
        may = self.book.may_settle(self.book.deposits[which]) and reason != ""
        act: Any = services.give_back_deposit if reason is None else services.keep_deposit
        facts = {} if reason is None else {"reason": reason}
        if self.try_it(act, actor, DESK, may=may, deposit=deposit, **facts):
            self.book.deposits[which].settled = True

    @rule(actor=clerks, taker=some, active=st.sampled_from([True, True, False]))
    def turn_holder(self, actor: str, taker: int, active: bool) -> None:
        """Somebody no longer receives keys, or receives them again."""
        taker %= len(self.book.takers) - 1
        found = self.book.takers[taker]
        act = services.reactivate_holder if active else services.deactivate_holder
        if self.try_it(act, actor, DESK, may=found.active != active, holder=self.world.holders[taker]):
            found.active = active
            if not active:
                self.taker_left(taker)

    @invariant()
    def database_agrees_with_the_book(self) -> None:
        type(self).steps += 1
        self.played += 1
        self.compare()
        # The product's own check besides, half way; and at the end of the game.
        if self.played % 50 == 0:
            assert breaches(Site.objects.all()) == []

    def compare(self) -> None:
        self.world.compare(self.book)

    def is_free(self, nth: int) -> bool:  # noqa: ARG002 (the rules of requests say more)
        """Whether a copy lies aside for nobody."""
        return True

    def taker_left(self, taker: int) -> None:
        """Somebody receives no more keys; requests say what follows."""

    def try_it(self, act: Any, actor: str, roles: set[str], *, may: bool, **facts: Any) -> Any:
        """The service's result where the book foretold that it goes through."""
        result: list[Any] = []
        went = attempt(
            lambda: result.append(act(actor=self.world.people[actor], **facts)),
            may=may,
            is_role=actor in roles,
        )
        self.tally[act.__name__, went] += 1
        # What was refused left no trace, what was done is told.
        assert self.remember_history() == went
        return result[0] if went else None

    def remember_history(self) -> bool:
        """Whether history has grown since it was last looked at."""
        before, self.told = self.told, events_told()
        return self.told > before

    def _cut(self, actor: str, symbol: int, cabinet: int, count: int) -> None:
        made = self.try_it(
            services.cut_copies,
            actor,
            DESK,
            may=self.book.cabinets[cabinet],
            symbol=self.world.symbols[symbol],
            site=self.world.cast.north,
            cabinet=self.world.cabinets[cabinet],
            count=count,
        )
        if made:
            self.world.copies += made
            self.book.cut(symbol, cabinet, count)

    def _give_back(self, actor: str, keys: list[int], cabinet: int, sign: Signature | None) -> None:
        facts = {"copies": self._copies(keys), "cabinet": self.world.cabinets[cabinet], "signature": sign}
        may = self.book.may_return(keys, cabinet)
        if self.try_it(services.return_keys, actor, DESK, may=may, **facts):
            self.book.acts += 1
            self.book.take_in(keys, cabinet)

    def _keys(self, chosen: list[int], place: str = "") -> list[int]:
        """Which keys these numbers mean, each once: mostly keys in the place, now and then any."""
        fitting = [nth for nth, key in enumerate(self.book.keys) if key.place == place]
        pool = fitting if fitting and chosen[0] % 5 else list(range(len(self.book.keys)))
        return list(dict.fromkeys(pool[each % len(pool)] for each in chosen))

    def _copies(self, keys: list[int]) -> list[KeyCopy]:
        return [self.world.copies[each] for each in keys]


def _due(hours: int | None) -> Any:
    return None if hours is None else timezone.now() + timedelta(hours=hours)
