"""What no order, line, check or try-out may be, for the test that asks the database itself."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.orders.models import Check, KeyTried, LockOut, OrderLine, TryOut, WorkOrder
from tests import factories
from tests.cast import Cast
from tests.keyctl.cores.forbidden import SMALL
from tests.keyctl.keys.keyroom import bare_key, bare_system
from tests.keyctl.orders.workshop import set_up


def an_order(cast: Cast, number: int = 1, **facts: Any) -> WorkOrder:
    given = {"kind": "inspect", "title": "Work", "opened_by": cast.locksmith} | facts
    return WorkOrder.objects.create(number=number, site=cast.north, **given)


def a_line(cast: Cast, ordinal: int = 1, **facts: Any) -> OrderLine:
    order = facts.pop("order", None) or an_order(cast)
    return OrderLine.objects.create(order=order, ordinal=ordinal, **facts)


def a_line_at(cast: Cast, **facts: Any) -> OrderLine:
    return a_line(cast, housing=factories.make_housing(cast.north), **facts)


def an_area_in_an_area(cast: Cast) -> None:
    an_order(cast, number=2, kind="rekey", part_of=an_order(cast, kind="rekey"))


def a_door_with_a_system(cast: Cast) -> None:
    door = factories.make_housing(cast.north).door
    a_line(cast, door=door, system=factories.make_system(cast.north, actor=cast.administrator))


def a_door_inspected_twice(cast: Cast) -> None:
    door, order = factories.make_housing(cast.north).door, an_order(cast)
    for ordinal in (1, 2):
        a_line(cast, ordinal, order=order, door=door)


def a_check(cast: Cast, times: int = 1, found: str = "good") -> None:
    line = a_line_at(cast)
    for nth in range(times):
        Check.objects.create(line=line, ordinal=nth, key="seated", label="Seated", found=found)


def a_lock_out(cast: Cast, **facts: Any) -> None:
    given = {"asked_by": "The caretaker", "until": timezone.localdate()} | facts
    LockOut.objects.create(order=an_order(cast, kind="lock_out"), **given)


def a_try_out(cast: Cast, **facts: Any) -> TryOut:
    return TryOut.objects.create(line=a_line_at(cast), by=cast.locksmith, **facts)


def a_key_tried_twice(cast: Cast) -> None:
    made, key = a_try_out(cast, outcome="good"), factories.change_key(set_up(cast).system)
    for _ in range(2):
        KeyTried.objects.create(try_out=made, symbol=key, expected="turns", found="turns")


def a_core(cast: Cast) -> Core:
    return Core.objects.create(site=cast.north, **SMALL)


def a_swap_done_without_its_checks(cast: Cast) -> None:
    order, facts = an_order(cast, kind="swap"), {"done_at": timezone.now(), "done_by": cast.locksmith}
    a_line_at(cast, order=order, core=a_core(cast), state="done", **facts)


def a_core_meant_for_no_housing(cast: Cast) -> None:
    core = a_core(cast)
    a_line(cast, order=an_order(cast, kind="pin"), core=core, meant=core)


def a_housing_waiting_for_two_swaps(cast: Cast) -> None:
    line = a_line_at(cast, order=an_order(cast, kind="swap"))
    a_line(cast, 2, order=line.order, housing=line.housing)


def two_orders_of_one_number(cast: Cast) -> None:
    for _ in range(2):
        an_order(cast)


def two_lines_in_one_place(cast: Cast) -> None:
    order = an_order(cast)
    for _ in range(2):
        a_line(cast, order=order)


def a_cut(cast: Cast, times: int = 1, **facts: Any) -> None:
    symbol = bare_key(bare_system(cast.north, actor=cast.administrator), "AA1")
    row = {"symbol": symbol, "count": 1, "cabinet": factories.make_cabinet(cast.north)} | facts
    order = an_order(cast, kind="cut")
    for ordinal in range(1, times + 1):
        a_line(cast, ordinal, order=order, **row)


def a_core_that_comes_out_of_itself(cast: Cast) -> None:
    core = a_core(cast)
    a_line_at(cast, core=core, core_out=core)


def a_core_on_two_benches(cast: Cast) -> None:
    core = a_core(cast)
    for number in (1, 2):
        a_line(cast, order=an_order(cast, number=number, kind="pin"), core=core)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "work_order_that_waits_says_for_what": lambda cast: an_order(cast, state="waiting"),
    "order_of_an_area_is_no_part": an_area_in_an_area,
    "only_an_area_has_parts_to_come": lambda cast: an_order(cast, more_to_come=True),
    "order_line_of_a_door_or_a_system_is_nothing_else": a_door_with_a_system,
    "door_that_was_not_reached_says_why": lambda cast: a_line_at(cast, unreached_at=timezone.now()),
    "only_a_shut_door_is_lifted": lambda cast: a_line_at(cast, lifted_at=timezone.now()),
    "door_is_shut_by_a_core_in_it": lambda cast: a_line_at(cast, keeps_shut=True, shut_at=timezone.now()),
    "only_a_housing_is_kept_shut": lambda cast: a_line(cast, keeps_shut=True),
    "only_a_pinned_core_is_tried": lambda cast: a_line_at(cast, trying="owed"),
    "door_is_inspected_once_an_order": a_door_inspected_twice,
    "point_is_checked_once_a_line": lambda cast: a_check(cast, times=2),
    "check_finds_something_known": lambda cast: a_check(cast, found="so-so"),
    "lock_out_says_who_asked": lambda cast: a_lock_out(cast, asked_by=""),
    "word_on_a_lock_out_is_somebodys": lambda cast: a_lock_out(cast, word="They may"),
    "core_left_untried_says_why": lambda cast: a_try_out(cast, outcome="untried"),
    "key_is_tried_once_in_a_try_out": a_key_tried_twice,
    "swap_is_done_only_with_its_checks": a_swap_done_without_its_checks,
    "core_is_meant_for_a_housing": a_core_meant_for_no_housing,
    "housing_has_at_most_one_open_swap": a_housing_waiting_for_two_swaps,
    "work_order_number_is_unique": two_orders_of_one_number,
    "work_order_is_open_or_closed_at_a_time": lambda cast: an_order(cast, state="done"),
    "order_line_has_its_own_place": two_lines_in_one_place,
    "order_line_done_says_who_and_what": lambda cast: a_line(cast, state="done", core=a_core(cast)),
    "order_line_cuts_a_key_or_works_on_a_core": lambda cast: a_cut(cast, core=a_core(cast)),
    "order_line_cuts_a_sane_number": lambda cast: a_cut(cast, count=101),
    "swap_takes_out_another_core": a_core_that_comes_out_of_itself,
    "key_stands_in_an_order_once": lambda cast: a_cut(cast, times=2),
    "core_stands_in_at_most_one_open_line": a_core_on_two_benches,
}
