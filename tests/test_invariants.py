"""The invariants are in the database itself: each named constraint refuses what its name forbids."""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction

from tests.cast import Cast

ROOT = Path(__file__).resolve().parents[1]
# Each app's own, in the folder of its tests.
MODULES = [
    ".".join(file.relative_to(ROOT).with_suffix("").parts)
    for file in sorted((ROOT / "tests").rglob("forbidden*.py"))
]
TRIES: list[tuple[str, Callable[[Cast], object]]] = [
    each for module in MODULES for each in import_module(module).FORBIDDEN.items()
]
FORBIDDEN = dict(TRIES)


def ours() -> list[tuple[type[models.Model], models.BaseConstraint]]:
    """Every constraint that a migration of ours made, and whose rows it looks at."""
    kept = [model for model in apps.get_models() if model.__module__.startswith("keyctl.")]
    return [(model, each) for model in kept for each in model._meta.constraints]


@pytest.mark.parametrize("name", sorted(FORBIDDEN))
def test_the_database_refuses_it(name: str, cast: Cast) -> None:
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        FORBIDDEN[name](cast)
    assert name in str(refused.value) or names_its_columns(name, str(refused.value))


def names_its_columns(name: str, message: str) -> bool:
    """SQLite names the columns of a broken unique constraint where PostgreSQL names the constraint."""
    model, constraint = next((model, each) for model, each in ours() if each.name == name)
    if not isinstance(constraint, models.UniqueConstraint):
        return False
    columns = [column for field in constraint.fields for column in columns_of(model, field)]
    return all(f"{model._meta.db_table}.{column}" in message for column in columns)


def columns_of(model: type[models.Model], name: str) -> list[str]:
    return [str(field.column) for field in model._meta.concrete_fields if field.name == name]


def test_every_invariant_is_tried_in_one_place() -> None:
    """A constraint that nobody tried may let through what its name forbids."""
    assert sorted(name for name, _ in TRIES) == sorted(each.name for _, each in ours())
    assert len(FORBIDDEN) > 350


def test_every_constraint_has_a_name_that_says_what_it_keeps() -> None:
    assert [each.name for _, each in ours() if each.name.count("_") < 2] == []
