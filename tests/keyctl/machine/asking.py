"""The rules of requests on top of custody: ask, decide, refuse, withdraw, be cut, collect, look again."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from keyctl.approvals import services
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import as_chosen, proposals_for
from keyctl.approvals.services.ending import tidy
from keyctl.keys.services import Signature
from keyctl.orders.models import OrderLine
from keyctl.orders.services import cut_line
from tests.keyctl.machine.asked import ask
from tests.keyctl.machine.askings import (
    ASKED,
    REFUSED,
    UNSETTLED,
    WITHDRAWN,
    Asking,
    Askings,
)
from tests.keyctl.machine.custody import DESK, NOBODY, CustodyMachine, clerks, signatures, some, takers

MOST_OPEN = 5

askers = st.sampled_from(["requester", "requester", "manager"])
managers = st.sampled_from(["manager", "second-manager", "second-manager", "manager", "officer", "requester"])
officers = st.sampled_from(["officer", "officer", "officer", "manager"])
deciders = st.sampled_from(["manager", "second-manager", "officer", "requester"])
is_old_page = st.sampled_from([False, False, False, False, False, True])
cutters = st.sampled_from(["locksmith", "locksmith", "locksmith", "desk"])
notes = st.sampled_from(["Fine.", "Fine.", " "])

EVERYBODY = {"desk", "second", "officer", "requester", "manager", "second-manager", "locksmith"}


def request_states() -> QuerySet[Any, Any]:
    return KeyRequest.objects.order_by().values_list("pk", "state")


def grants_with_keys() -> QuerySet[Any, Any]:
    fields = ("symbol", "reserved_copy", "copy", "order_line__state")
    return Grant.objects.order_by().values_list("request", *fields)


class RequestMachine(CustodyMachine):
    def __init__(self) -> None:
        super().__init__()
        self.askings = Askings(self.book, rank=lambda key: self.world.copies[key].serial)
        self.requests: list[KeyRequest] = []
        self.lines: list[OrderLine] = []

    @rule(actor=askers, taker=takers, which=some, reason=st.sampled_from(["Work.", "Work.", "Work.", ""]))
    @precondition(lambda self: len(self.askings.open_rows()) < MOST_OPEN)
    def ask(self, actor: str, taker: int, which: int, reason: str) -> None:
        symbol, doors = self.world.wishes[which % len(self.world.wishes)]
        found = self.book.takers[taker]
        request = self.try_it(
            services.ask_for_key,
            actor,
            EVERYBODY,
            may=bool(reason) and found.north and found.active,
            doors=doors,
            holder=self.world.holders[taker],
            reason=reason,
        )
        if request:
            self.requests.append(request)
            self.askings.rows.append(Asking(actor, taker, symbol))

    @rule(actor=managers, chosen=some, is_old=is_old_page)
    @precondition(lambda self: bool(self.requests))
    def choose(self, actor: str, chosen: int, is_old: bool) -> None:
        """The first decision: which keys."""
        nth = self._pick(chosen, ASKED)
        row, request = self.askings.rows[nth], self.requests[nth]
        key = next(each.key for each in proposals_for(request) if self._is_of(each, row.symbol))
        facts = {"request": request, "version": self._version(nth, is_old), "proposal": key}
        may = self.askings.may_choose(row, actor) and not is_old
        if self.try_it(services.approve_request, actor, EVERYBODY, may=may, **facts):
            row.chosen_by = actor
            if not row.is_master:
                self._provide(nth)

    @rule(actor=officers, chosen=some, is_old=is_old_page)
    @precondition(lambda self: any(row.chosen_by for row in self.askings.rows))
    def agree(self, actor: str, chosen: int, is_old: bool) -> None:
        """A further decision, of an officer, about a master key."""
        nth = self._pick(chosen, ASKED)
        row, request = self.askings.rows[nth], self.requests[nth]
        effect = as_chosen(request)
        keys = effect.key if effect else ""
        facts = {"request": request, "version": self._version(nth, is_old), "keys": keys}
        may = self.askings.may_agree(row, actor) and not is_old
        if self.try_it(services.approve_step, actor, EVERYBODY, may=may, **facts):
            self._provide(nth)

    @rule(actor=deciders, chosen=some, note=notes)
    @precondition(lambda self: bool(self.requests))
    def refuse(self, actor: str, chosen: int, note: str) -> None:
        nth = chosen % len(self.requests)
        row = self.askings.rows[nth]
        facts = {"request": self.requests[nth], "version": self._version(nth), "note": note}
        may = self.askings.may_refuse(row, actor) and bool(note.strip())
        if self.try_it(services.refuse_request, actor, EVERYBODY, may=may, **facts):
            self.askings.end(row, REFUSED)

    @rule(actor=askers, chosen=some)
    @precondition(lambda self: bool(self.requests))
    def withdraw(self, actor: str, chosen: int) -> None:
        nth = chosen % len(self.requests)
        row = self.askings.rows[nth]
        may = row.asker == actor and row in self.askings.open_rows()
        if self.try_it(services.withdraw_request, actor, EVERYBODY, may=may, request=self.requests[nth]):
            self.askings.end(row, WITHDRAWN)

    @rule(actor=clerks, chosen=some, other=some, sign=signatures)
    @precondition(lambda self: bool(self.requests))
    def collect(self, actor: str, chosen: int, other: int, sign: Signature) -> None:
        """With the copy that lies there, or with some other one."""
        nth = self._pick(chosen, *UNSETTLED)
        row = self.askings.rows[nth]
        key = row.aside if row.aside is not None and other % 4 else self._keys([other])[0]
        facts = {"request": self.requests[nth], "copies": self._copies([key]), "signature": sign}
        may = self.askings.may_collect(row, actor, key) and sign is not NOBODY
        went = self.try_collect(actor, row, key, may=may, **facts)
        if went:
            self.book.hand_over([key], row.taker)
            self.askings.collect(row, key)

    @rule(actor=cutters, chosen=some)
    @precondition(lambda self: bool(self.lines))
    def be_cut(self, actor: str, chosen: int) -> None:
        still = [nth for nth, is_open in enumerate(self.askings.orders) if is_open]
        nth = still[chosen % len(still)] if still and chosen % 4 else chosen % len(self.lines)
        may = self.askings.orders[nth]
        line = self.try_it(cut_line, actor, {"locksmith"}, may=may, line=self.lines[nth])
        if line:
            (copy,) = line.copies.all()
            self.world.copies.append(copy)
            cabinet = [each.pk for each in self.world.cabinets].index(copy.cabinet_id)
            numbers = [symbol.pk for symbol in self.world.symbols]
            self.book.cut(numbers.index(copy.symbol_id), cabinet, 1)
            self.askings.cut(nth, len(self.book.keys) - 1)

    @rule(actor=clerks, chosen=some)
    @precondition(lambda self: bool(self.requests))
    def look_again(self, actor: str, chosen: int) -> None:
        nth = self._pick(chosen, *UNSETTLED)
        row = self.askings.rows[nth]
        may = row.state in UNSETTLED and self.book.takers[row.taker].active
        if self.try_it(services.look_again, actor, DESK, may=may, request=self.requests[nth]):
            self._provide(nth)

    @rule()
    @precondition(lambda self: bool(self.askings.broken_promises()))
    def night(self) -> None:
        """The routine that looks for what was promised and is gone."""
        tidy(timezone.now())
        self.askings.renew()
        self._take_new_lines()
        self.remember_history()

    def is_free(self, nth: int) -> bool:
        return not self.askings.is_aside(nth)

    def taker_left(self, taker: int) -> None:
        self.askings.end_of_taker(taker)

    def try_collect(self, actor: str, row: Asking, key: int, *, may: bool, **facts: Any) -> Any:
        """What is wrong with the request or the copy is said before anybody's role is asked for."""
        is_asked_for = row.state in UNSETTLED and self.book.keys[key].symbol == row.symbol
        roles = DESK if is_asked_for else EVERYBODY
        return self.try_it(services.collect, actor, roles, may=may, **facts)

    def compare(self) -> None:
        super().compare()
        states = dict(map(tuple, ask("requests", request_states)))
        assert states == {
            request.pk: row.state for request, row in zip(self.requests, self.askings.rows, strict=True)
        }
        grants = {pk: facts for pk, *facts in ask("grants", grants_with_keys)}
        for request, row in zip(self.requests, self.askings.rows, strict=True):
            assert grants.get(request.pk) == self._granted(row)

    def _granted(self, row: Asking) -> list[Any] | None:
        if not row.chosen_by or row.state == REFUSED:
            return None
        aside, given = (None if nth is None else self.world.copies[nth].pk for nth in (row.aside, row.given))
        line = None if row.order is None else self.lines[row.order]
        state = line and ("open" if self.askings.orders[row.order or 0] else self._closed(line))
        return [self.world.symbols[row.symbol].pk, aside, given, state]

    def _closed(self, line: OrderLine) -> str:
        closed = OrderLine.objects.filter(pk=line.pk, state__in=["done", "cancelled"])
        return str(closed.values_list("state", flat=True).get())

    def _provide(self, nth: int) -> None:
        self.askings.provide(self.askings.rows[nth])
        self._take_new_lines()

    def _take_new_lines(self) -> None:
        """The lines of orders that the book foretold, in the order in which it did."""
        for number in range(len(self.lines), len(self.askings.orders)):
            nth = next(nth for nth, row in enumerate(self.askings.rows) if row.order == number)
            line = (
                Grant.objects.select_related("order_line__order").get(request=self.requests[nth]).order_line
            )
            assert line is not None
            self.lines.append(line)

    def _pick(self, chosen: int, *states: str) -> int:
        """Mostly a request whose turn it is, now and then any."""
        fitting = [nth for nth, row in enumerate(self.askings.rows) if row.state in states]
        return fitting[chosen % len(fitting)] if fitting and chosen % 5 else chosen % len(self.requests)

    def _version(self, nth: int, is_old: bool = False) -> int:
        version = KeyRequest.objects.values_list("version", flat=True).get(pk=self.requests[nth].pk)
        return version - is_old

    def _is_of(self, proposal: Any, symbol: int) -> bool:
        return [each.pk for each in proposal.symbols] == [self.world.symbols[symbol].pk]
