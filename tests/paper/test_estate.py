"""The simulation's statements still fit the real tables; every rule of the database is asked, keys of
others too.
"""

from typing import Any

import pytest
from django.db import connection, models

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.places.models import Door
from keyctl.vault import services as vault
from tests.paper import estate
from tests.paper.pages import DOOR, pk
from tests.paper.rows import Rows, key

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="the database itself makes the rows"),
]


def test_a_building_is_written_with_all_that_hangs_on_it_and_breaks_no_rule(db: None) -> None:
    maker = estate.found()
    before = _counted(maker)
    made = _written(maker)
    assert {table: rows - before[table] for table, rows in _counted(maker).items()} == made
    assert made["audit_event"] == 250 * estate.EVENTS_EACH
    assert _dangling(maker) == []


def _written(maker: User) -> dict[str, int]:
    """A building, as the simulation writes it: without triggers."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        made = estate.write(maker, (0, 250))
        cursor.execute("SET LOCAL session_replication_role = origin")
    return made


def _counted(maker: User) -> dict[str, int]:
    return {rows.table: rows.model.objects.count() for rows in estate.estate(maker)}


def _dangling(maker: User) -> list[str]:
    """Foreign keys that lead nowhere: asked one by one, since the triggers that hold them were away."""
    found = []
    written: set[Any] = {rows.model for rows in estate.estate(maker)}
    for model in written:
        for field in model._meta.concrete_fields:
            if isinstance(field, models.ForeignKey):
                related: Any = field.related_model
                there = related.objects.values(field.target_field.attname)
                rows = model.objects.exclude(**{field.attname: None}).exclude(
                    **{f"{field.attname}__in": there}
                )
                found += [f"{model.__name__}.{field.name}"] if rows.exists() else []
    return found


def test_what_the_pages_ask_for_is_what_the_database_made(db: None) -> None:
    _written(estate.found())
    core = Core.objects.get(pk=pk("core", DOOR))
    assert core.housing is not None
    assert core.housing.door == Door.objects.get(pk=pk("door", DOOR))
    assert Turn.objects.filter(core=core).count() == 4
    assert Event.objects.filter(subjects__subject_id=core.pk).count() == estate.EVENTS_EACH


def test_a_column_that_is_gone_is_found_out() -> None:
    with pytest.raises(ValueError, match="places_door has no column colour"):
        Rows(Door, 1, {"id": key("door", "n"), "colour": "'red'"}).statement()


def test_sealed_values_are_as_long_as_those_that_the_vault_makes(db: None) -> None:
    core = Core()
    assert len(vault.seal(core, "pinning", "0" * 60)) in {estate.SEALED_CUTS, estate.SEALED_CUTS - 4}
    assert len(vault.seal(core, "pinning", "0" * 400)) in {estate.SEALED_PINS, estate.SEALED_PINS - 4}
