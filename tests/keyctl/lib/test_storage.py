"""What a database says when it cannot go on is told by the right name; the errors are its own."""

import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.conf import settings
from django.db import OperationalError, connection, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import Client, RequestFactory
from pysqlite3 import dbapi2

from keyctl.lib.gate import GateClosed
from keyctl.lib.storage import AWAY, BUSY, FULL, READ_ONLY, tell, trouble_in

on_postgresql = pytest.mark.skipif(connection.vendor != "postgresql", reason="asks PostgreSQL itself")


def scratch(tmp_path: Path) -> Any:
    made = dbapi2.connect(tmp_path / "scratch", timeout=0, isolation_level=None)
    made.execute("CREATE TABLE IF NOT EXISTS t (x)")
    return made


def full(tmp_path: Path) -> None:
    made = scratch(tmp_path)
    made.execute("PRAGMA max_page_count = 3")
    for _ in range(100):
        made.execute("INSERT INTO t VALUES (zeroblob(4000))")


def read_only(tmp_path: Path) -> None:
    scratch(tmp_path)
    dbapi2.connect(f"file:{tmp_path}/scratch?mode=ro", uri=True).execute("INSERT INTO t VALUES (1)")


def locked(tmp_path: Path) -> None:
    holder = scratch(tmp_path)
    holder.execute("BEGIN IMMEDIATE")
    scratch(tmp_path).execute("BEGIN IMMEDIATE")


def missing(tmp_path: Path) -> None:
    dbapi2.connect(tmp_path / "no-such-folder" / "scratch").execute("SELECT 1")


@pytest.mark.parametrize(
    ("break_it", "expected"), [(full, FULL), (read_only, READ_ONLY), (locked, BUSY), (missing, AWAY)]
)
def test_what_sqlite_says(break_it: Callable[[Path], None], expected: object, tmp_path: Path) -> None:
    with pytest.raises(dbapi2.OperationalError) as caught:
        break_it(tmp_path)
    # As the framework hands it on: its own error, made from this one.
    wrapped = OperationalError(str(caught.value))
    wrapped.__cause__ = caught.value
    assert trouble_in(caught.value) is trouble_in(wrapped) is expected


@on_postgresql
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("state", "expected"), [("53100", FULL), ("25006", READ_ONLY), ("55P03", BUSY), ("57P03", AWAY)]
)
def test_what_postgresql_says(state: str, expected: object) -> None:
    """Codes by appendix A of its manual, raised by the server."""
    sql = f"DO $$ BEGIN RAISE EXCEPTION USING ERRCODE = '{state}'; END $$"
    with pytest.raises(Exception) as caught, transaction.atomic(), connection.cursor() as cursor:  # noqa: PT011
        cursor.execute(sql)
    assert trouble_in(caught.value) is expected


def test_what_the_system_and_the_gate_say() -> None:
    assert trouble_in(OSError(errno.ENOSPC, "x")) is FULL
    assert trouble_in(OSError(errno.EROFS, "x")) is READ_ONLY
    closed = GateClosed("x")
    assert trouble_in(closed) is BUSY
    closed.__cause__ = OSError(errno.EROFS, "x")
    assert trouble_in(closed) is READ_ONLY
    assert trouble_in(ValueError("database or disk is full")) is None
    assert trouble_in(None) is None


def test_a_page_for_people_and_a_problem_for_programs() -> None:
    page = tell(RequestFactory().get("/", headers={"accept": "text/html"}), BUSY)
    assert (page.status_code, page["Retry-After"], page["Content-Type"][:9]) == (503, "2", "text/html")
    problem = tell(RequestFactory().get("/"), FULL)
    assert (problem.status_code, problem["Content-Type"]) == (507, "application/problem+json")
    assert "Retry-After" not in problem


def test_any_page_answers_so_wherever_it_breaks() -> None:
    """The framework's own work breaks before any view is asked: it looks whose session this is."""
    error = OperationalError("database is locked")
    error.__cause__ = OSError(errno.ENOSPC, "x")
    client = Client(raise_request_exception=False, headers={"accept": "text/html"})
    client.cookies[settings.SESSION_COOKIE_NAME] = "a" * 32
    with patch.object(BaseDatabaseWrapper, "cursor", side_effect=error):
        answer = client.get("/estate/")
    assert answer.status_code == 507
    assert "makes room on it" in answer.content.decode()
