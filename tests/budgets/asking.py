"""What every address that reads takes of the database: made from the URL configuration, like the sweep."""

from dataclasses import dataclass, field
from itertools import chain
from typing import Any

from django.db import connection

from keyctl.lib.policy import declared
from tests.matrix import expected, programs
from tests.matrix.asking import Asker
from tests.matrix.rows import YES, Row

# Answers that are asked for by no budget, each with the reason.
UNASKED = {
    "accounts:provider-callback": "nothing is there without an identity provider",
    "history:proof": "an event of a transaction that nobody committed has no proof",
}
# Whose page shows most, first. Last who has every role at both sites: some pages are for them alone.
PEOPLE = (
    "locksmith",
    "desk",
    "officer",
    "manager",
    "administrator",
    "both",
    "requester",
    "auditor",
    "nobody",
)
# What an address says beside its parameters.
SAID = {"inherited:reconstruct": "?format=small-a2-7", "search:find": "?words=house"}


OWN = 'SELECT "accounts_session"', 'SELECT "api_usage"'


@dataclass(frozen=True)
class Asked:
    """``read`` holds the statements that read, in their order, ``given`` their values."""

    route: str
    who: str
    read: tuple[str, ...]
    given: tuple[Any, ...] = field(default=(), repr=False)


def reading() -> list[Row]:
    every = chain(expected.rows(), programs.rows())
    return [
        row
        for row in every
        if row.method == "GET"
        and row.route not in UNASKED
        and declared()[row.route].whose("GET") is not None
        and YES in row.cells.values()
    ]


def ask(asker: Asker, row: Row) -> Asked:
    """By the first of those who may and are answered."""
    named = [who for who in (*PEOPLE, *row.cells) if row.cells.get(who) == YES]
    answers = (ask_as(asker, who, row.route) for who in dict.fromkeys(named))
    found = next(filter(None, answers), None)
    if found is None:
        raise ValueError(f"Nobody is answered at {row.route}: name it in UNASKED, with the reason.")
    return found


def ask_as(asker: Asker, who: str, route: str) -> Asked | None:
    reads = Reads()
    with connection.execute_wrapper(reads):
        answer = _get(asker, who, route)
    return (
        Asked(route, who, tuple(reads.made), tuple(reads.given)) if answer.status_code in {200, 302} else None
    )


def _get(asker: Asker, who: str, route: str) -> Any:
    asker.become(who)
    bearer = asker.bearers.get(who)
    headers = {"authorization": f"Bearer {bearer}"} if bearer else {}
    answer = asker.client.get(asker.address(route) + SAID.get(route, ""), headers=headers)
    if answer.streaming:
        list(answer)
    return answer


class Reads:
    """What a session or a token notes of itself is no part of a page."""

    def __init__(self) -> None:
        self.made: list[str] = []
        self.given: list[Any] = []

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip("( ").startswith(("SELECT", "WITH")) and not sql.startswith(OWN):
            self.made.append(sql)
            self.given.append(params)
        return execute(sql, params, many, context)
