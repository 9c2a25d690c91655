"""Work just before a commit: in the transaction, or nothing of it."""

from pathlib import Path
from typing import Any

import pytest
from django.db import connections, transaction

from keyctl.lib.commits import before_commit
from tests.keyctl.audit.files import using_file


def count_of(database: Any) -> int:
    with database.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM places_site")
        return int(cursor.fetchone()[0])


@pytest.fixture
def database(tmp_path: Path, django_db_blocker: Any) -> Any:
    """A file of its own, in which something is committed."""
    with django_db_blocker.unblock(), using_file(tmp_path / "own.sqlite3") as own:
        with own.cursor() as cursor:
            cursor.execute("CREATE TABLE places_site (id text, code text, name text)")
        yield own


def add() -> None:
    with connections["default"].cursor() as cursor:
        cursor.execute("INSERT INTO places_site VALUES ('1', 'N', 'North')")


def test_it_is_done_once_with_all_that_was_noted(database: Any) -> None:
    done: list[Any] = []

    def work(_connection: Any, items: list[Any]) -> None:
        done.append(items)

    with transaction.atomic():
        for item in (1, 2):
            before_commit("default", work, item)
        assert done == []
    assert done == [[1, 2]]
    with transaction.atomic():
        add()
    assert done == [[1, 2]]


def test_where_it_fails_nothing_is_kept(database: Any) -> None:
    def work(_connection: Any, _items: list[Any]) -> None:
        raise RuntimeError("no room")

    @transaction.atomic
    def act() -> None:
        add()
        before_commit("default", work, 1)

    with pytest.raises(RuntimeError, match="no room"):
        act()
    assert count_of(database) == 0
    with transaction.atomic():
        add()
    assert count_of(database) == 1


def test_what_is_taken_back_is_not_done(database: Any) -> None:
    done: list[Any] = []

    @transaction.atomic
    def act() -> None:
        before_commit("default", lambda _connection, items: done.extend(items), 1)
        raise LookupError

    with pytest.raises(LookupError):
        act()
    with transaction.atomic():
        add()
    assert done == []


def test_outside_of_a_transaction_there_is_no_before(database: Any) -> None:
    with pytest.raises(TypeError, match="does work before its end"):
        before_commit("default", lambda _connection, _items: None, 1)
