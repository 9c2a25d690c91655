"""Building models: what the open duplex states, and small models in IFC 4 made by the library itself."""

import re
from typing import Any

import pytest

from keyctl.imports.buildings.stated import Stated
from keyctl.imports.cobie.reading import read as read_workbook
from keyctl.imports.ifc import kind
from keyctl.imports.ifc.kind import read_ifc, refuse_other_file
from keyctl.imports.ifc.reading import read
from keyctl.lib.confined import Bounds
from keyctl.lib.errors import Refused
from tests.open_data import open_data

ifcopenshell = pytest.importorskip("ifcopenshell")
guid = pytest.importorskip("ifcopenshell.guid")


@pytest.fixture(scope="module")
def duplex() -> Stated:
    return read(open_data("duplex.ifc").read_bytes())


class TestTheDuplex:
    def test_it_has_14_doors_and_21_spaces_on_4_storeys(self, duplex: Stated) -> None:
        assert (len(duplex.doors), len(duplex.spaces), len(duplex.floors)) == (14, 21, 4)
        assert duplex.faults == ()

    def test_its_doors_are_those_of_its_text(self, duplex: Stated) -> None:
        text = open_data("duplex.ifc").read_text()
        assert {door.called.value for door in duplex.doors} == set(re.findall(r"IFCDOOR\('([^']+)'", text))

    def test_its_doors_join_the_spaces_that_the_workbook_names(self, duplex: Stated) -> None:
        """But for one, of which the model bounds three: A205, by a corner of the corridor."""
        workbook = read_workbook(open_data("duplex-cobie.xlsx").read_bytes())

        def joined(stated: Stated) -> dict[str, set[str]]:
            numbers = [space.number for space in stated.spaces]
            return {door.called.value: {numbers[place] for place in door.spaces} for door in stated.doors}

        model, sheet = joined(duplex), joined(workbook)
        assert [value for value in sheet if model[value] != sheet[value]] == ["1aj$VJZFn2TxepZUBcKpac"]
        assert sheet["1aj$VJZFn2TxepZUBcKpac"] < model["1aj$VJZFn2TxepZUBcKpac"]

    def test_a_placeholder_is_no_rating(self, duplex: Stated) -> None:
        """The model's ratings all read "Fire Rating", as its template left them; four doors are external."""
        assert {door.facts[1] for door in duplex.doors} == {""}
        assert sum(door.facts[2] == "external" for door in duplex.doors) == 4

    def test_doors_without_a_number_get_none_that_another_has(self, duplex: Stated) -> None:
        assert len({(door.floor, door.number) for door in duplex.doors}) == 14
        assert not any(door.is_numbered for door in duplex.doors)

    def test_the_confined_reader_states_the_same(self, duplex: Stated) -> None:
        confined = read_ifc(open_data("duplex.ifc").read_bytes())
        assert confined._replace(doors=tuple(confined.doors)) == duplex


class Model:
    """A small model, made entity by entity."""

    def __init__(self, schema: str = "IFC4") -> None:
        self.file = ifcopenshell.file(schema=schema)
        self.building = self.make("IfcBuilding", Name="House")
        self.storeys = [self.storey("Ground", 0.0), self.storey("Upper", 3.0)]

    def make(self, kind: str, **facts: Any) -> Any:
        facts.setdefault("GlobalId", guid.new())
        return self.file.create_entity(kind, **facts)

    def storey(self, name: str, height: float) -> Any:
        made = self.make("IfcBuildingStorey", Name=name, Elevation=height)
        self.make("IfcRelAggregates", RelatingObject=self.building, RelatedObjects=[made])
        return made

    def space(self, name: str, storey: Any) -> Any:
        made = self.make("IfcSpace", Name=name, LongName=f"Room {name}")
        self.make("IfcRelAggregates", RelatingObject=storey, RelatedObjects=[made])
        return made

    def door(self, name: str = "Door", storey: Any = None, **facts: Any) -> Any:
        made = self.make("IfcDoor", Name=name, **facts)
        if storey is not None:
            self.make("IfcRelContainedInSpatialStructure", RelatingStructure=storey, RelatedElements=[made])
        return made

    def bound(self, door: Any, space: Any) -> None:
        facts = {"PhysicalOrVirtualBoundary": "PHYSICAL", "InternalOrExternalBoundary": "INTERNAL"}
        self.make("IfcRelSpaceBoundary", RelatingSpace=space, RelatedBuildingElement=door, **facts)

    def say(self, thing: Any, group: str, **values: Any) -> None:
        properties = [
            self.file.create_entity("IfcPropertySingleValue", Name=name, NominalValue=value)
            for name, value in values.items()
        ]
        made = self.make("IfcPropertySet", Name=group, HasProperties=properties)
        self.make("IfcRelDefinesByProperties", RelatingPropertyDefinition=made, RelatedObjects=[thing])

    def text(self, value: str) -> Any:
        return self.file.create_entity("IfcLabel", value)

    def truth(self, value: bool) -> Any:
        return self.file.create_entity("IfcBoolean", value)

    def read(self) -> Stated:
        return read(self.file.to_string().encode())


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_what_is_common_to_doors_is_read_in_both_editions(schema: str) -> None:
    model = Model(schema)
    ground = model.storeys[0]
    office, hall = model.space("101", ground), model.space("102", ground)
    door = model.door("Single", ground, Tag="4711")
    model.bound(door, office)
    model.bound(door, hall)
    common = {"FireRating": model.text("EI 30"), "FireExit": model.truth(True)}
    common |= {"IsExternal": model.truth(False), "HandicapAccessible": model.truth(True)}
    model.say(door, "Pset_DoorCommon", **common)
    model.say(door, "Hardware", HardwareSet=model.text("HW-3"))
    stated = model.read()
    found = stated.doors[0]
    assert found.facts == ("HW-3", "EI 30", "fire exit, accessible", "", "", "")
    assert (found.number, found.floor, found.spaces) == ("4711", 0, (0, 1))
    assert [(space.number, space.name) for space in stated.spaces] == [
        ("101", "Room 101"),
        ("102", "Room 102"),
    ]
    assert [(floor.name, floor.level) for floor in stated.floors] == [("Ground", 0), ("Upper", 1)]


def test_a_door_without_a_storey_of_its_own_is_where_its_wall_is() -> None:
    model = Model()
    wall = model.make("IfcWall", Name="Wall")
    model.make(
        "IfcRelContainedInSpatialStructure", RelatingStructure=model.storeys[1], RelatedElements=[wall]
    )
    opening = model.make("IfcOpeningElement", Name="Opening")
    model.make("IfcRelVoidsElement", RelatingBuildingElement=wall, RelatedOpeningElement=opening)
    door = model.door()
    model.make("IfcRelFillsElement", RelatingOpeningElement=opening, RelatedBuildingElement=door)
    assert model.read().doors[0].floor == 1


def test_what_is_said_of_a_doors_type_is_said_of_it() -> None:
    model = Model()
    door = model.door("Heavy", model.storeys[0])
    rating = model.file.create_entity(
        "IfcPropertySingleValue", Name="FireRating", NominalValue=model.text("60")
    )
    common = model.make("IfcPropertySet", Name="Pset_DoorCommon", HasProperties=[rating])
    made = model.make("IfcDoorType", Name="Heavy", HasPropertySets=[common])
    model.make("IfcRelDefinesByType", RelatingType=made, RelatedObjects=[door])
    assert model.read().doors[0].facts[1] == "60"


def test_a_mark_that_two_doors_share_numbers_neither() -> None:
    model = Model()
    for tag in ("1", "2", "3"):
        door = model.door("Door", model.storeys[0], Tag=tag)
        model.say(door, "Identity", Mark=model.text("A" if tag < "3" else "B"))
    assert [door.number for door in model.read().doors] == ["1", "2", "B"]


def test_what_has_no_place_is_told_by_its_entity() -> None:
    model = Model()
    nowhere = model.door("Lost")
    stated = model.read()
    assert (stated.doors, stated.doors_read) == ((), 1)
    fault = stated.faults[0]
    assert fault[:3] == ("IfcDoor", nowhere.id(), "ContainedInStructure")
    assert (fault.thing, "no storey" in fault.message) == ("doors", True)


def test_two_doors_of_one_identifier_are_one_and_a_fault() -> None:
    model = Model()
    for _ in range(2):
        model.door("Door", model.storeys[0], GlobalId="3doo0000000000000000aa", Tag="1")
    stated = model.read()
    assert (len(stated.doors), [fault.column for fault in stated.faults]) == (1, ["GlobalId"])


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"Building,Floor\n"])
def test_another_file_is_turned_away_when_it_comes(content: bytes) -> None:
    with pytest.raises(Refused):
        refuse_other_file(content)


def test_a_broken_model_is_refused() -> None:
    with pytest.raises(Refused, match="cannot be read as a building model"):
        read_ifc(b"ISO-10303-21;\nnonsense")


def test_a_model_that_takes_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kind, "BOUNDS", Bounds(memory=64 * 1024 * 1024))
    with pytest.raises(Refused, match="more time or memory"):
        read_ifc(open_data("duplex.ifc").read_bytes())


def test_without_the_library_the_remedy_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kind, "LIBRARY", "no_such_library")
    with pytest.raises(Refused, match=r"requirements-ifc\.txt") as refused:
        read_ifc(b"ISO-10303-21;")
    assert "COBie" in refused.value.message
