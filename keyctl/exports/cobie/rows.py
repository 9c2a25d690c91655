"""A building's places as the rows of each sheet, by the name of the column; what is not said is empty."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Final
from uuid import UUID

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.exports.cobie.named import Identifiers, Names
from keyctl.places.models import Building, Door, Floor, Space

Row = dict[str, str]
# The word before a number, and the type of all doors.
DOOR: Final = "Door"
USES: Final = {"fire exit": "FireExit", "accessible": "HandicapAccessible", "external": "IsExternal"}
AT_ONCE: Final = 2000
BY: Final = "CreatedBy"


class Rows:
    """The names of one sheet are what the next one refers to, so the sheets are made in their order."""

    def __init__(self, building: Building, *, actor: User, at: datetime) -> None:
        self.building = building
        self.identifiers = Identifiers(building)
        self.made = {BY: actor.email or f"{actor.username}@localhost", "CreatedOn": f"{at:%Y-%m-%dT%H:%M:%S}"}
        self.floors: dict[UUID, str] = {}
        self.spaces: dict[UUID, tuple[UUID, str]] = {}
        self.doors: dict[UUID, str] = {}

    def contact(self) -> Iterator[Row]:
        yield {"Email": self.made[BY], "Category": "Owner"}

    def facility(self) -> Iterator[Row]:
        given = self.identifiers.of(self.building.pk)
        yield {
            "Name": given.name or self.building.name,
            "Category": "Facility",
            "ProjectName": self.building.site.name,
            "SiteName": self.building.site.name,
            "ExternalSystem": given.system,
            "ExternalFacilityObject": "IfcBuilding",
            "ExternalFacilityIdentifier": given.value,
            "Description": self.building.name,
        }

    def floor(self) -> Iterator[Row]:
        names = Names()
        for floor in Floor.objects.filter(building=self.building).order_by("level", "label"):
            self.floors[floor.pk] = names.take([floor.label])
            yield {
                "Name": self.floors[floor.pk],
                "Category": "Floor",
                "Elevation": str(floor.level),
                **self._external(floor.pk, "IfcBuildingStorey"),
            }

    def space(self) -> Iterator[Row]:
        names = Names()
        spaces = Space.objects.filter(floor__building=self.building).order_by("floor__level", "number", "pk")
        for space in spaces.iterator(chunk_size=AT_ONCE):
            floor = self.floors[space.floor_id]
            name = names.take([space.number, f"{floor} {space.number}"])
            self.spaces[space.pk] = space.floor_id, name
            yield {
                "Name": name,
                "Category": "Space",
                "FloorName": floor,
                "Description": space.name,
                "RoomTag": space.number,
                **self._external(space.pk, "IfcSpace"),
            }

    def type(self) -> Iterator[Row]:
        yield {"Name": DOOR, "Category": "Door", "AssetType": "Fixed", "ExtObject": "IfcDoorType"}

    def component(self) -> Iterator[Row]:
        names = Names()
        joined = self._joined()
        for door in self._doors().iterator(chunk_size=AT_ONCE):
            given = self.identifiers.of(door.pk)
            floor = self.floors[door.floor_id]
            wanted = [given.name] if given.name else []
            name = names.take([*wanted, f"{DOOR} {door.number}", f"{DOOR} {floor} {door.number}"])
            self.doors[door.pk] = name
            yield {
                "Name": name,
                "TypeName": DOOR,
                "Space": ", ".join(self._spaces_of(door, joined.get(door.pk, ()))) or floor,
                "Description": door.name,
                "SerialNumber": door.serial_number,
                "TagNumber": door.asset_tag,
                "BarCode": door.bar_code,
                "AssetIdentifier": str(door.pk),
                **self._external(door.pk, "IfcDoor"),
            }

    def attribute(self) -> Iterator[Row]:
        for door in self._doors().iterator(chunk_size=AT_ONCE):
            name = self.doors[door.pk]
            said = {"HardwareSet": door.hardware_set, "FireRating": door.fire_rating}
            said |= {} if name == f"{DOOR} {door.number}" else {"DoorNumber": door.number}
            said |= {USES[use]: "yes" for use in door.stated_use.split(", ") if use in USES}
            for about, value in said.items():
                if value:
                    yield {
                        "Name": about,
                        "Category": "As Built",
                        "SheetName": "Component",
                        "RowName": name,
                        "Value": value,
                        "ExtSystem": "keyctl",
                    }

    def _doors(self) -> QuerySet[Door]:
        return Door.objects.filter(floor__building=self.building).order_by("floor__level", "number", "pk")

    def _joined(self) -> Mapping[UUID, list[UUID]]:
        found: dict[UUID, list[UUID]] = defaultdict(list)
        rows = Door.spaces.through.objects.filter(door__floor__building=self.building)
        for door, space in rows.order_by("pk").values_list("door_id", "space_id").iterator():
            found[door].append(space)
        return found

    def _spaces_of(self, door: Door, spaces: Iterable[UUID]) -> list[str]:
        """Those on the door's own floor first: whoever reads the file takes the floor from the first."""
        known = sorted(
            (self.spaces[pk][0] != door.floor_id, self.spaces[pk][1]) for pk in spaces if pk in self.spaces
        )
        return [name for _, name in known]

    def _external(self, pk: UUID, kind: str) -> Row:
        given = self.identifiers.of(pk)
        return {"ExtSystem": given.system, "ExtObject": kind, "ExtIdentifier": given.value}
