"""The sheet of one wave of a rotation: its doors by route, and which core goes in. No key, no cut."""

from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.access import require_role
from keyctl.prints.frame import Head, Secrecy, new_number, now, set_print
from keyctl.prints.pdf import require_printer
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
    title: str
    order: str
    houses: tuple[HouseOnSheet, ...]

    @property
    def doors(self) -> int:
        return sum(len(house.doors) for house in self.houses)


def print_wave_sheet(*, actor: User, wave: Wave) -> bytes:
    """As PDF; history knows who carries one."""
    rotation = wave.rotation
    require_role(actor, rotation.site, *WORKERS)
    if wave.swap_order is None:
        raise Refused(_("{wave} has not begun: no core is chosen for its doors yet.").format(wave=wave))
    require_printer()
    head = Head(
        kind=_("Wave sheet"),
        title=f"{rotation}, {in_sentence(wave)}",
        made_by=str(actor),
        made_at=now(),
        secrecy=Secrecy.LOCKED,
        site=str(rotation.site),
        number=new_number(),
    )
    with transaction.atomic():
        record(
            actor=actor,
            verb="rotation.sheet_printed",
            sentence=f"printed the sheet of wave {wave.ordinal} of {in_english(rotation)}",
            site_id=rotation.site_id,
            subjects=[rotation, wave.swap_order],
            detail={"wave": wave.ordinal, "print": head.number},
        )
    return set_print("prints/wave_sheet.html", head, sheet=wave_sheet(wave))


def wave_sheet(wave: Wave) -> WaveSheet:
    houses: dict[str, list[DoorOnSheet]] = {}
    for door in wave.doors.with_places().order_by(*ROUTE):
        building = door.housing.door.building
        houses.setdefault(f"{building.code} {building.name}", []).append(_door(door))
    return WaveSheet(
        title=wave.rotation.title,
        order=str(wave.swap_order),
        houses=tuple(HouseOnSheet(name, tuple(doors)) for name, doors in houses.items()),
    )


def _door(row: RotationDoor) -> DoorOnSheet:
    door = row.housing.door
    facts = {_("way out"): door.is_egress, _("fire-rated"): door.is_fire_rated}
    return DoorOnSheet(
        floor=door.floor.label,
        door=door.number,
        name=door.name,
        housing=row.housing.label or row.housing.get_kind_display(),
        core_in=str(row.core_in or row.meant or "–"),
        is_done=row.state == RotationDoor.State.SWAPPED,
        cautions=tuple(words for words, holds in facts.items() if holds),
    )
