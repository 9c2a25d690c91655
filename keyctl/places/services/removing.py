"""Removing a place that was written down by mistake. What anything stands on, or was ever done at, stays."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.lib.records import Record
from keyctl.lib.standing import joined, standing_on
from keyctl.places.access import require_role
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Site, Space
from keyctl.places.roles import DOOR_KEEPERS, PLACE_KEEPERS, Role
from keyctl.places.services.locking import held

# What goes with the place, since it says nothing without it.
GOES_ALONG = (Identifier,)


@transaction.atomic
def remove_building(*, actor: User, building: Building) -> None:
    building = held(building)
    _remove(actor, building, building.site, PLACE_KEEPERS, f"the building {building}")


@transaction.atomic
def remove_floor(*, actor: User, floor: Floor) -> None:
    floor = held(floor)
    _remove(actor, floor, floor.building.site, PLACE_KEEPERS, f"the floor {floor} of {floor.building}")


@transaction.atomic
def remove_space(*, actor: User, space: Space) -> None:
    space = held(space)
    _remove(actor, space, space.site, PLACE_KEEPERS, f"the space {space}")


@transaction.atomic
def remove_door(*, actor: User, door: Door) -> None:
    door = held(door)
    _remove(actor, door, door.site, DOOR_KEEPERS, f"door {door}")


@transaction.atomic
def remove_housing(*, actor: User, housing: Housing) -> None:
    housing = held(housing)
    _remove(actor, housing, housing.door.site, DOOR_KEEPERS, f"the housing {in_english(housing)}")


def _remove(actor: User, place: Record, site: Site, roles: tuple[Role, ...], words: str) -> None:
    require_role(actor, site, *roles)
    refuse_what_stands(place, words)
    # Named first: afterwards the row has no identifier any more.
    record(
        actor=actor,
        verb=f"{place._meta.model_name}.removed",
        sentence=f"removed {words}",
        site_id=site.pk,
        subjects=[place],
    )
    place.delete()


def refuse_what_stands(place: Record, words: str) -> None:
    """Every row of every app that names the place keeps it, were it only the line of an old order."""
    if found := standing_on(place, besides=GOES_ALONG):
        raise Refused(
            _(
                "{upper}{words} stays, because of {joined}. Remove or move what can go; a place with a "
                "history is kept, and may be named so that nobody takes it for another."
            ).format(upper=words[0].upper(), words=words[1:], joined=joined(found))
        )
