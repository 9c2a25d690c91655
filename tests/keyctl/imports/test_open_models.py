"""Open hand-overs and models of two buildings, held to the figures of their README."""

import io
import json
import re
from collections import Counter
from typing import Any

import pytest
from django.core.management import call_command

from keyctl.imports.buildings.stated import Stated
from keyctl.imports.cobie import kind
from keyctl.imports.cobie.kind import read_cobie
from keyctl.places.models import Building, Door, Floor, Identifier, Site, Space
from tests.cast import Cast
from tests.open_data import open_data

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def clinic() -> Stated:
    return read_cobie(open_data("clinic-cobie.xlsx").read_bytes())


class TestTheClinic:
    def test_it_has_254_doors_and_269_spaces_on_5_floors_without_a_fault(self, clinic: Stated) -> None:
        assert (len(clinic.doors), len(clinic.spaces), len(clinic.floors)) == (254, 269, 5)
        assert (clinic.faults, clinic.doors_read) == ((), 254)

    def test_230_doors_name_two_spaces_and_all_others_one(self, clinic: Stated) -> None:
        assert Counter(len(door.spaces) for door in clinic.doors) == {2: 230, 1: 24}

    def test_243_doors_have_their_hardware_set_and_254_their_own_serial_number(self, clinic: Stated) -> None:
        assert sum(bool(door.facts[0]) for door in clinic.doors) == 243
        assert len({door.facts[3] for door in clinic.doors}) == 254

    def test_the_doors_without_an_identifier_have_none(self, clinic: Stated) -> None:
        """Six say "n/a", which is no identifier that they share."""
        assert sum(not door.called.value for door in clinic.doors) == 6

    def test_floors_stand_in_the_order_of_their_heights(self, clinic: Stated) -> None:
        levels = {floor.name: floor.level for floor in clinic.floors}
        assert levels == {"TOF Footing": -1, "Site": 0, "First Floor": 0, "Second Floor": 1, "Roof - Main": 2}


def by_identifier() -> dict[str, Door]:
    rows = Identifier.objects.filter(kind="door").select_related("door")
    return {row.value: row.door for row in rows if row.door}


def run(site: Site, name: str, form: str) -> dict[str, Any]:
    out = io.StringIO()
    call_command("import", form, str(open_data(name)), "--site", site.code, "--json", stdout=out)
    told: dict[str, Any] = json.loads(out.getvalue())
    return told


def test_the_clinic_gives_its_doors_once(cast: Cast, clinic: Stated, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kind, "read_cobie", lambda _content: clinic)
    told = run(cast.north, "clinic-cobie.xlsx", "cobie")
    assert told["doors"] == {"read": 254, "created": 254, "updated": 0, "unchanged": 0}
    assert (told["spaces"], told["floors"], told["errors"]) == (269, 5, [])
    again = run(cast.north, "clinic-cobie.xlsx", "cobie")
    assert again["doors"] == {"read": 254, "created": 0, "updated": 0, "unchanged": 254}
    assert (Door.objects.count(), Space.objects.count(), Floor.objects.count()) == (254, 269, 5)
    assert Door.objects.exclude(hardware_set="").count() == 243
    assert Door.objects.values("serial_number").distinct().count() == 254
    assert Building.objects.get().name == "Medical-Dental Clinic"


def test_workbook_and_model_of_the_duplex_are_the_same_doors(cast: Cast) -> None:
    """By the identifiers in the model's own text."""
    pytest.importorskip("ifcopenshell")
    in_text = set(re.findall(r"IFCDOOR\('([^']+)'", open_data("duplex.ifc").read_text()))
    assert run(cast.north, "duplex-cobie.xlsx", "cobie")["doors"]["created"] == 14
    first = {value: door.pk for value, door in by_identifier().items()}
    told = run(cast.north, "duplex.ifc", "ifc")["doors"]
    assert (told["read"], told["created"]) == (14, 0)
    assert {value: door.pk for value, door in by_identifier().items()} == first
    assert set(first) == in_text
    assert (Door.objects.count(), Building.objects.count(), Floor.objects.count()) == (14, 1, 4)
    assert set(Door.objects.values_list("number", flat=True)) >= {"Type A-1", "Type D-2"}


def test_the_model_may_come_first(cast: Cast) -> None:
    """A workbook numbers doors that a model could only tell apart."""
    pytest.importorskip("ifcopenshell")
    assert run(cast.north, "duplex.ifc", "ifc")["doors"]["created"] == 14
    told = run(cast.north, "duplex-cobie.xlsx", "cobie")["doors"]
    assert told == {"read": 14, "created": 0, "updated": 14, "unchanged": 0}
    assert Door.objects.count() == 14
    assert by_identifier()["1hOSvn6df7F8_7GcBWlS8Z"].number == "Type A-1"
