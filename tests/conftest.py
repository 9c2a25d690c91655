"""Fixtures every test may use."""

import gc
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, connections
from django.db.models.signals import post_migrate
from hypothesis import HealthCheck, settings

from keyctl.audit import guards
from keyctl.vault import ring
from keyctl.vault.models import DataKey
from tests.cast import Cast, gather
from tests.flushing import guards_lifted

# On a busy machine a slow example is no fault.
settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    """Tests make their tables from the models; the triggers of history come from its migration."""
    with django_db_blocker.unblock():
        guards.install(connections["default"])
        connection.close()


@pytest.fixture(scope="session", autouse=True)
def history_yields_to_the_flush() -> Iterator[None]:
    """After a test that commits, the database is emptied; only here can history be."""
    with guards_lifted():
        yield


# Rights here are roles. Django would write its own permissions anew after each test that commits.
post_migrate.disconnect(dispatch_uid="django.contrib.auth.management.create_permissions")


def pytest_collection_finish() -> None:
    """What is there before the first test stays: no collection of garbage need look through it again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)


@pytest.fixture(scope="session", autouse=True)
def vault_keys() -> None:
    """Every test's database has the same data keys: made once, put back by what empties the tables."""
    kept: list[DataKey] = []

    def put_back(**_facts: Any) -> None:
        if not kept:
            ring.make_first_keys()
            kept.extend(DataKey.objects.all())
        elif not DataKey.objects.exists():
            DataKey.objects.bulk_create(kept)

    vault = apps.get_app_config("vault")
    post_migrate.connect(put_back, sender=vault, weak=False, dispatch_uid="the tests' vault keys")


@pytest.fixture
def cast(db: None) -> Cast:
    return gather()


WRITING = ("INSERT", "UPDATE", "DELETE")


@contextmanager
def _watched_writes() -> Iterator[list[str]]:
    """The writing statements made inside the block, but for the session's own."""
    written: list[str] = []

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if (
            sql.lstrip().split(" ", 1)[0].upper() in {"INSERT", "UPDATE", "DELETE"}
            and "accounts_session" not in sql
        ):
            written.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield written


@pytest.fixture
def writes() -> Callable[[], AbstractContextManager[list[str]]]:
    return _watched_writes
