"""The doors that a page offers to somebody who asks for keys: found by what they type, and those chosen."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q

from keyctl.places.models import Building, Door, DoorQuerySet, Floor

MOST_FOUND = 30
MOST_PARTS = 20


@dataclass(frozen=True)
class DoorChoice:
    chosen: list[Door]
    found: list[Door]
    is_cut_short: bool


def doors_to_choose(
    doors: DoorQuerySet, text: str = "", floor: Floor | None = None, chosen: Sequence[str] = ()
) -> DoorChoice:
    """The doors chosen so far, and further ones of ``doors`` (which the actor may know of).

    Parts between commas are looked for each by itself, so that a list of rooms can be pasted.
    """
    kept = list(doors.filter(pk__in=identifiers(chosen)).with_places())
    found = doors.filter(_named(text)).exclude(pk__in=[door.pk for door in kept]).with_places()
    if floor is not None:
        found = found.filter(floor=floor)
    first = list(found[: MOST_FOUND + 1])
    return DoorChoice(kept, first[:MOST_FOUND], len(first) > MOST_FOUND)


def floor_named(building: Building, text: str) -> Floor | None:
    """A floor of the building by what a browser sent; a wrong one narrows nothing."""
    return building.floors.filter(pk__in=identifiers([text])).first()


def identifiers(texts: Sequence[str]) -> list[UUID]:
    """What a browser sent as identifiers, without what cannot be one."""
    found = []
    for text in texts:
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found


def _named(text: str) -> Q:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    wanted = Q()
    for part in parts[:MOST_PARTS]:
        wanted |= Q(number__icontains=part) | Q(name__icontains=part)
    return wanted
