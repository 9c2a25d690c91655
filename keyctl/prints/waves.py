"""The sheet of one wave of a rotation: its doors by route, and which core goes in. No key, no cut."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.prints.pdf import render_pdf, require_printer
from keyctl.rotations.access import WORKERS
from keyctl.rotations.models import RotationDoor, Wave
from keyctl.rotations.selectors import ROUTE


@dataclass(frozen=True)
class DoorOnSheet:
    floor: str
    door: str
    name: str
    housing: str
    core_in: str
    is_done: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class HouseOnSheet:
    name: str
    doors: tuple[DoorOnSheet, ...]


@dataclass(frozen=True)
class WaveSheet:
    rotation: str
    title: str
    wave: str
    order: str
    made_by: str
    made_at: datetime
    houses: tuple[HouseOnSheet, ...]

    @property
    def doors(self) -> int:
        return sum(len(house.doors) for house in self.houses)


def print_wave_sheet(*, actor: User, wave: Wave) -> bytes:
    """As PDF; history knows who carries one."""
    rotation = wave.rotation
    require_role(actor, rotation.site, *WORKERS)
    if wave.swap_order is None:
        raise Refused(f"{wave} has not begun: no core is chosen for its doors yet.")
    require_printer()
    with transaction.atomic():
        record(
            actor=actor,
            verb="rotation.sheet_printed",
            sentence=f"printed the sheet of wave {wave.ordinal} of {rotation}",
            site_id=rotation.site_id,
            subjects=[rotation, wave.swap_order],
            detail={"wave": wave.ordinal},
        )
    return render_pdf(render_to_string("prints/wave_sheet.html", {"sheet": wave_sheet(wave, actor)}))


def wave_sheet(wave: Wave, made_by: User) -> WaveSheet:
    houses: dict[str, list[DoorOnSheet]] = {}
    for door in wave.doors.with_places().order_by(*ROUTE):
        building = door.housing.door.building
        houses.setdefault(f"{building.code} {building.name}", []).append(_door(door))
    return WaveSheet(
        rotation=str(wave.rotation),
        title=wave.rotation.title,
        wave=str(wave),
        order=str(wave.swap_order),
        made_by=str(made_by),
        made_at=timezone.localtime(),
        houses=tuple(HouseOnSheet(name, tuple(doors)) for name, doors in houses.items()),
    )


def _door(row: RotationDoor) -> DoorOnSheet:
    door = row.housing.door
    facts = {"way out": door.is_egress, "fire-rated": door.is_fire_rated}
    return DoorOnSheet(
        floor=door.floor.label,
        door=door.number,
        name=door.name,
        housing=row.housing.label or row.housing.get_kind_display(),
        core_in=str(row.core_in or row.meant or "–"),
        is_done=row.state == RotationDoor.State.SWAPPED,
        cautions=tuple(words for words, holds in facts.items() if holds),
    )
