"""Every right of the product, cell by cell: each route by each method, asked by each person of the matrix.

The referee is the reviewed table ``fixtures/permissions.csv``: a right that changes shows in its difference.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from keyctl.lib.policy import declared, routes, unsound_routes
from keyctl.search.services import read_what_changed
from tests.cast import gather
from tests.matrix import programs, table
from tests.matrix.asking import Asker, each_page_once, quiet, writes_seen
from tests.matrix.exceptions import NOTED, sent
from tests.matrix.expected import METHODS, rows
from tests.matrix.people import gather_sessions
from tests.matrix.rows import NO_METHOD, Row
from tests.scenes import build_routes

ROWS = list(rows())
SPACES = sorted({row.route.rpartition(":")[0] for row in ROWS})
# Nobody's, unless a policy says so.
UNUSUAL = ("PUT", "PATCH", "DELETE")


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Asker]:
    """Made once: every test looks at it inside a savepoint of its own."""
    contact = override_settings(SECURITY_CONTACT="mailto:security@example.org")
    with django_db_blocker.unblock(), transaction.atomic(), quiet(), contact:
        cast = gather()
        sessions = gather_sessions(cast)
        base, objects = build_routes(cast)
        objects |= programs.objects(base, objects)
        found = Asker(sessions, objects, sent(base, objects), programs.gather_bearers(cast))
        # What is new is read before a search: by now it has been.
        read_what_changed()
        yield found
        transaction.set_rollback(True)


@pytest.fixture
def asker(made: Asker, db: None) -> Asker:
    return made


def rows_of(space: str) -> list[Row]:
    return [row for row in ROWS if row.route.rpartition(":")[0] == space]


def test_every_route_declares_a_policy_and_every_policy_has_a_route() -> None:
    assert list(unsound_routes()) == []


@pytest.mark.parametrize("file", [table.OF_PEOPLE, table.OF_PROGRAMS], ids=lambda file: file.stem)
def test_the_table_is_the_one_that_was_reviewed(file: Path) -> None:
    """``python -m tests.matrix`` writes it anew; whoever keeps it has read what changed."""
    assert table.files()[file] == file.read_text()


def test_every_route_with_a_parameter_has_an_object(asker: Asker) -> None:
    named = {name for name, route in routes() if route.pattern.converters}
    assert named - set(asker.objects) == set()


@pytest.mark.parametrize("space", SPACES)
def test_everybody_gets_what_the_table_says(space: str, asker: Asker) -> None:
    """And looking changes nothing."""
    wrong: dict[str, object] = {}
    for row in rows_of(space):
        with writes_seen() as written, each_page_once():
            wrong |= differences(asker, row)
        if row.method == "GET" and written and row.route not in NOTED:
            wrong[row.route] = f"wrote: {written[0].sql}"
    assert wrong == {}


@pytest.mark.parametrize("space", ["api", "scim"])
def test_every_program_gets_what_the_table_says(space: str, asker: Asker) -> None:
    wrong: dict[str, object] = {}
    for row in programs.rows():
        if row.route.startswith(f"{space}:"):
            wrong |= differences(asker, row)
    assert wrong == {}


def differences(asker: Asker, row: Row) -> dict[str, object]:
    """What somebody found, beside what the table says."""
    return {
        f"{row.method} {row.route} as {who}": (found, cell)
        for who, cell in row.cells.items()
        if (found := asker.verdict(who, row.route, row.method)) != cell
    }


@pytest.mark.parametrize("space", SPACES)
def test_no_route_takes_a_method_that_it_does_not_declare(space: str, asker: Asker) -> None:
    names = {row.route for row in rows_of(space)}
    asked = [(name, method) for name in sorted(names) for method in UNUSUAL]
    undeclared = [(name, method) for name, method in asked if method not in declared()[name].methods]
    with each_page_once():
        taken = [pair for pair in undeclared if asker.verdict("administrator", *pair) != NO_METHOD]
    assert taken == []


def test_the_matrix_asks_by_every_declared_method() -> None:
    stated = {method for policy in declared().values() for method in policy.methods}
    assert stated <= {*METHODS, *UNUSUAL}
