"""Tables that keyctl gives out come back in, and everything is found to be as they say."""

from typing import Any

import pytest

from keyctl.exports.tables import TABLES
from keyctl.exports.taking import take_table
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Door
from tests import factories
from tests.cast import Cast
from tests.keyctl.imports.files import faults, taken, tried

pytestmark = pytest.mark.django_db


def given_out(cast: Cast, table: str) -> bytes:
    return take_table(actor=cast.locksmith, table=TABLES[table], form="csv", said={}).content


def test_doors_come_back_unchanged(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    Door.objects.filter(number="101").update(name="=SUM(A1)")
    imported = tried(cast.administrator, cast.north, content=given_out(cast, "doors"))
    assert faults(imported) == []
    assert imported.counts["things"]["doors"] == {"read": 4, "created": 0, "updated": 0, "unchanged": 4}


def test_cores_come_back_unchanged_wherever_they_are(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    system = factories.make_system(cast.north, actor=cast.locksmith)
    facts: dict[str, Any] = {"actor": cast.locksmith, "site": cast.north, "system": system}
    for door in Door.objects.filter(housings__isnull=False).distinct():
        for housing in door.housings.all():
            factories.install(factories.make_core(**facts), housing)
    carried = factories.make_core(**facts)
    carried.place, carried.carrier = "case", cast.locksmith
    carried.save()
    factories.make_core(**facts, pinned=False)
    imported = tried(cast.locksmith, cast.north, kind="cores", content=given_out(cast, "cores"))
    assert faults(imported) == []
    assert imported.counts["things"]["cores"] == {"read": 6, "created": 0, "updated": 0, "unchanged": 6}


def test_keys_come_back_unchanged_whoever_has_them(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    cabinet, key = factories.make_cabinet(cast.north), factories.change_key(system)
    factories.make_copy(key, cabinet)
    KeyCopy.objects.create(symbol=key, site=cast.north, state="lost", stamp="M 1")
    content = given_out(cast, "copies")
    imported = tried(cast.locksmith, cast.north, kind="keys", content=content)
    assert faults(imported) == []
    assert imported.counts["things"]["keys"] == {"read": 2, "created": 0, "updated": 0, "unchanged": 2}


def test_rows_of_another_site_are_told(cast: Cast) -> None:
    header = ["Site", "Building", "Floor", "Number"]
    imported = tried(cast.administrator, cast.north, [["SOUTH", "A", "1", "1"]], header=header)
    [(_, column, sentence)] = faults(imported)
    assert (column, "another site" in sentence) == ("Site", True)
