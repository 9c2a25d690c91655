"""Every address that reads takes as many queries in an estate thrice as large, and keeps to its budget.

``python -m tests.bench pages`` asks the same of 1,000 doors and of 100,000.
"""

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from keyctl.search.services import read_what_changed
from tests.budgets import table
from tests.budgets.asking import Asked, ask, ask_as, reading
from tests.budgets.growing import Estate
from tests.budgets.scene import ready
from tests.cast import gather

LARGER = 2
# What a site has once.
ONCE = {
    "approvals.RequestSettings",
    "desk.DueRules",
    "inherited.ListHabit",
    "keys.DeskSettings",
    "leavers.LeaverRules",
    "losses.LossRule",
    "losses.WorkRates",
    "reveals.Limits",
}
# What sets one site beside another asks about each: so much for one more, however large it is.
BY_SITE = {
    "approvals:rules": 2,
    "counts:list": 3,
    "losses:rules": 2,
    "reveals:home": 3,
}
RENEW = "If it is meant, write fixtures/queries.csv anew with KEYCTL_WRITE_QUERIES=1, and read what changed."

Pair = tuple[Asked, Asked]


@dataclass(frozen=True)
class Made:
    pairs: list[Pair]
    # Rows by table before and after.
    rows: dict[str, tuple[int, int]]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Made]:
    """Each address in the smaller estate, then in the larger one."""
    with django_db_blocker.unblock(), transaction.atomic(), ready(gather()) as asker:
        estate = Estate()
        estate.grow(1)
        read_what_changed()
        before = sizes(estate)
        few = [ask(asker, row) for row in reading()]
        estate.grow(LARGER)
        read_what_changed()
        many = [ask_as(asker, each.who, each.route) for each in few]
        after = sizes(estate)
        yield Made(
            [(one, other) for one, other in zip(few, many, strict=True) if other],
            {name: (before[name], after[name]) for name in before},
        )
        transaction.set_rollback(True)


def sizes(estate: Estate) -> dict[str, int]:
    return {model._meta.label: model._base_manager.count() for model, rows in estate.rows.items() if rows}


@pytest.fixture
def pairs(made: Made, db: None) -> list[Pair]:
    if os.environ.get("KEYCTL_WRITE_QUERIES"):
        table.write(few for few, _ in made.pairs)
    return made.pairs


def test_every_table_grows_but_for_what_is_there_once(made: Made, db: None) -> None:
    once = {name for name, (before, after) in made.rows.items() if before == after}
    assert sorted(once) == sorted(ONCE)
    assert sum(after for _, after in made.rows.values()) > 2 * sum(before for before, _ in made.rows.values())


def test_every_address_is_answered_in_the_larger_estate(pairs: list[Pair]) -> None:
    assert len(pairs) == len(reading())


def test_no_address_takes_more_queries_where_more_is_there(pairs: list[Pair]) -> None:
    grown = {few.route: told(few, many) for few, many in pairs if more(few, many) > 0}
    assert grown == {}


def test_what_asks_about_each_site_still_does(pairs: list[Pair]) -> None:
    assert {few.route: more(few, many) for few, many in pairs if few.route in BY_SITE} == dict.fromkeys(
        BY_SITE, 0
    )


def more(few: Asked, many: Asked) -> int:
    """Beside what the sites that were added may take."""
    return len(many.read) - len(few.read) - BY_SITE.get(few.route, 0) * LARGER


def told(few: Asked, many: Asked) -> str:
    """By how many, and the statement that came most often again."""
    extra = Counter(many.read)
    extra.subtract(few.read)
    sql, times = extra.most_common(1)[0]
    return f"{len(few.read)} queries, then {len(many.read)}; {times} times more: {sql[:200]} … {sql[-200:]}"


def test_every_address_keeps_to_its_budget(pairs: list[Pair]) -> None:
    budgets = table.budgets()
    over = {
        few.route: f"{len(few.read)} queries as {few.who}, {budgets[few.route][1]} are its budget. {RENEW}"
        for few, _ in pairs
        if few.route in budgets and len(few.read) > budgets[few.route][1]
    }
    assert over == {}


def test_every_address_has_a_budget(pairs: list[Pair]) -> None:
    """And none is left of an address that is gone."""
    assert {few.route: few.who for few, _ in pairs} == {
        route: who for route, (who, _) in table.budgets().items()
    }, RENEW
