"""Changing what is written of places. What was there before stands in history, and what came instead."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypedDict, Unpack

from django.db import transaction
from django.db.models import Model
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.lib.records import Record
from keyctl.places.access import is_program, require_role
from keyctl.places.models import Building, Door, Floor, Housing, Site, Space
from keyctl.places.roles import DOOR_KEEPERS, PLACE_KEEPERS
from keyctl.places.services.adding import refuse_spaces_elsewhere
from keyctl.places.services.locking import held, hold

# What people at the door are warned of.
CAUTIONS = {
    "is_egress": gettext_lazy("that people leave through a door in an emergency"),
    "is_fire_rated": gettext_lazy("that a door is fire-rated"),
}

# Of these history says that they changed: what people write at length stays out of it.
UNTOLD = frozenset({"note"})


class BuildingFacts(TypedDict, total=False):
    code: str
    name: str


class FloorFacts(TypedDict, total=False):
    label: str
    level: int


class SpaceFacts(TypedDict, total=False):
    floor: Floor
    number: str
    name: str


class DoorFacts(TypedDict, total=False):
    floor: Floor
    spaces: Sequence[Space]
    number: str
    name: str
    door_class: str
    is_egress: bool
    is_fire_rated: bool
    fire_rating: str
    hardware_set: str
    serial_number: str
    asset_tag: str
    bar_code: str
    note: str


class HousingFacts(TypedDict, total=False):
    kind: str
    construction: str
    label: str


@transaction.atomic
def change_building(*, actor: User, building: Building, **facts: Unpack[BuildingFacts]) -> Building:
    building = held(building)
    require_role(actor, building.site, *PLACE_KEEPERS)
    hold(building.site)
    change = Change.of(building, facts)
    if change.touches("code") and building.site.buildings.filter(code=facts["code"]).exists():
        raise Refused(
            _("{site} has a building {facts} already; choose another code.").format(
                site=building.site, facts=facts["code"]
            )
        )
    change.keep(actor, building.site, f"changed the building {building}")
    return building


@transaction.atomic
def change_floor(*, actor: User, floor: Floor, **facts: Unpack[FloorFacts]) -> Floor:
    floor = held(floor)
    building = floor.building
    require_role(actor, building.site, *PLACE_KEEPERS)
    hold(building)
    change = Change.of(floor, facts)
    if change.touches("label") and building.floors.filter(label=facts["label"]).exists():
        raise Refused(
            _("{building} has a floor called {facts} already; call this one otherwise.").format(
                building=building, facts=facts["label"]
            )
        )
    change.keep(actor, building.site, f"changed the floor {floor} of {building}", building)
    return floor


@transaction.atomic
def change_space(*, actor: User, space: Space, **facts: Unpack[SpaceFacts]) -> Space:
    space = held(space)
    require_role(actor, space.site, *PLACE_KEEPERS)
    change = Change.of(space, facts)
    floor, number = facts.get("floor", space.floor), facts.get("number", space.number)
    _refuse_floor_elsewhere(space.site, floor)
    hold(floor)
    if change.touches("floor", "number") and floor.spaces.filter(number=number).exists():
        raise Refused(
            _("{floor} of {building} has a space {number} already; choose another number.").format(
                floor=floor, building=floor.building, number=number
            )
        )
    change.keep(actor, space.site, f"changed the space {space}", floor)
    return space


@transaction.atomic
def change_door(*, actor: User, door: Door, **facts: Unpack[DoorFacts]) -> Door:
    """A door stays at its site. What it is to people in an emergency, the caller's page or program says with
    care: local codes and those licensed by them decide that, not this register."""
    door = held(door)
    site = door.site
    require_role(actor, site, *DOOR_KEEPERS)
    change = Change.of(door, facts)
    _refuse_lost_cautions(actor, site, change)
    floor, number = facts.get("floor", door.floor), facts.get("number", door.number)
    _refuse_floor_elsewhere(site, floor)
    refuse_spaces_elsewhere(floor, facts.get("spaces", ()))
    hold(floor)
    if change.touches("floor", "number") and floor.doors.filter(number=number).exists():
        raise Refused(
            _("{floor} of {building} has a door {number} already; choose another number.").format(
                floor=floor, building=floor.building, number=number
            )
        )
    change.keep(actor, site, f"changed door {door}")
    return door


def _refuse_lost_cautions(actor: User, site: Site, change: "Change") -> None:
    """One caution too many costs a look at the door, one too few may cost more."""
    lost = [words for name, words in CAUTIONS.items() if change.facts.get(name) is False]
    if lost and is_program(actor, site):
        raise Refused(
            _(
                "No program takes back {lost}. A locksmith or an administrator of {site} does, on the page "
                "of the door."
            ).format(lost=" and ".join(map(str, lost)), site=site)
        )


@transaction.atomic
def change_housing(*, actor: User, housing: Housing, **facts: Unpack[HousingFacts]) -> Housing:
    housing = held(housing)
    door = housing.door
    require_role(actor, door.site, *DOOR_KEEPERS)
    hold(door)
    change = Change.of(housing, facts)
    kind, label = facts.get("kind", housing.kind), facts.get("label", housing.label)
    if change.touches("kind", "label") and door.housings.filter(kind=kind, label=label).exists():
        raise Refused(
            _("{door} has such a housing already; give this one a label that tells them apart.").format(
                door=door
            )
        )
    if change.touches("construction") and _is_filled(housing):
        raise Refused(
            _("There is a core in {housing}: take it out by a swap order, then change what fits.").format(
                housing=housing
            )
        )
    change.keep(actor, door.site, f"changed the housing {in_english(housing)}", door)
    return housing


@dataclass
class Change:
    """Which facts of a place become others; a fact that stays as it is, is none."""

    place: Record
    facts: dict[str, Any] = field(default_factory=dict)
    before: dict[str, Any] = field(default_factory=dict)

    @classmethod
    def of(cls, place: Record, facts: Mapping[str, Any]) -> "Change":
        change = cls(place)
        for name, value in facts.items():
            if (held := _told(_value(place, name))) != _told(value):
                change.facts[name], change.before[name] = value, held
        return change

    def touches(self, *names: str) -> bool:
        return any(name in self.facts for name in names)

    def keep(self, actor: User, site: Site, sentence: str, *beside: Model) -> None:
        """Write the changed facts and one event; nothing where nothing changes."""
        if not self.facts:
            return
        after = {name: _told(value) for name, value in self.facts.items()}
        self._save()
        record(
            actor=actor,
            verb=f"{self.place._meta.model_name}.changed",
            sentence=f"{sentence}: {', '.join(map(self._words, after))}",
            site_id=site.pk,
            subjects=[self.place, *beside],
            detail={"before": _open(self.before), "after": _open(after)},
        )

    def _save(self) -> None:
        joined = {name for name in self.facts if self.place._meta.get_field(name).many_to_many}
        for name in joined:
            getattr(self.place, name).set(self.facts[name])
        for name in self.facts.keys() - joined:
            setattr(self.place, name, self.facts[name])
        if named := self.facts.keys() - joined:
            self.place.save(update_fields=sorted(named))

    def _words(self, name: str) -> str:
        """What somebody's safety may hang on is told with its value."""
        value = self.facts[name]
        words = in_english(NAMES.get(name, name))
        return f"{words} (now {'yes' if value else 'no'})" if isinstance(value, bool) else words


# How history calls a fact, where its own name would not do.
NAMES = {
    "is_egress": gettext_lazy("whether people leave through it in an emergency"),
    "is_fire_rated": gettext_lazy("whether it is fire-rated"),
    "door_class": "class",
    "fire_rating": gettext_lazy("fire rating"),
    "hardware_set": gettext_lazy("hardware set"),
    "serial_number": gettext_lazy("serial number"),
    "asset_tag": gettext_lazy("asset tag"),
    "bar_code": gettext_lazy("bar code"),
}


def _value(place: Record, name: str) -> Any:
    value = getattr(place, name)
    return list(value.all()) if place._meta.get_field(name).many_to_many else value


def _told(value: Any) -> Any:
    """As history keeps it: a thing by its name and id, several of them in a fixed order."""
    if isinstance(value, Model):
        return {"id": str(value.pk), "name": in_english(value)}
    if isinstance(value, list | tuple):
        return sorted((_told(each) for each in value), key=lambda told: str(told["id"]))
    return value


def _open(told: Mapping[str, Any]) -> dict[str, Any]:
    return {name: None if name in UNTOLD else value for name, value in told.items()}


def _refuse_floor_elsewhere(site: Site, floor: Floor) -> None:
    if floor.building.site_id != site.pk:
        raise Refused(
            _("{floor} of {building} is at another site; choose a floor of {site}.").format(
                floor=floor, building=floor.building, site=site
            )
        )


def _is_filled(housing: Housing) -> bool:
    """Cores lie above places in the order of imports; the question goes through the relation."""
    return Housing.objects.filter(pk=housing.pk, cores__isnull=False).exists()
