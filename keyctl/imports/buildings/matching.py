"""Which place on record a row of a file means: by identifier, then by number. Only reads.

A place that one row means by its identifier is nobody else's by its number: so nothing is taken for another
thing, and nothing is made twice.
"""

from collections.abc import Iterable, Sequence
from typing import Any, Final, NamedTuple
from uuid import UUID

from keyctl.imports.buildings.stated import AT_ONCE, Called
from keyctl.lib.guids import uuid_of
from keyctl.places.models import Door, Identifier, Site

CHUNK: Final = AT_ONCE
OURS: Final = "keyctl"


class Known(NamedTuple):
    """An identifier on record: of what, and how the last file that numbers things called it."""

    identifier: UUID
    place: UUID
    name: str
    system: str


def known_by_identifier(site: Site, kind: str, called: Iterable[Called]) -> dict[tuple[str, str], Known]:
    """By source and value; identifiers that other programs gave, and those that we gave ourselves."""
    wanted = {(each.source, each.value) for each in called if each.value}
    sources, values = ({key[place] for key in wanted} for place in (0, 1))
    # By all columns of the constraint: without the source each look reads every identifier of the site.
    rows = Identifier.objects.filter(site=site, source__in=sources, kind=kind, value__in=values).order_by()
    found = {
        (source, value): Known(pk, place, name, system)
        for pk, source, value, place, name, system in rows.values_list(
            "pk", "source", "value", kind, "name", "system"
        )
    }
    return {key: known for key, known in found.items() if key in wanted}


def own_doors(site: Site, called: Sequence[Called]) -> dict[str, UUID]:
    """Doors whose identifier in the file is the one that our export gave them."""
    own = {each.value: uuid_of(each.value) for each in called if each.system == OURS}
    doors = Door.objects.filter(pk__in=[pk for pk in own.values() if pk], floor__building__site=site)
    there = set(doors.order_by().values_list("pk", flat=True))
    return {value: pk for value, pk in own.items() if pk in there}


def doors_by_number(wanted: Sequence[tuple[UUID, Iterable[str]]]) -> dict[tuple[UUID, str], UUID]:
    """Doors on these floors that carry one of the numbers."""
    floors = {floor for floor, _ in wanted}
    numbers = {number for _, each in wanted for number in each}
    rows: Any = Door.objects.filter(floor__in=floors, number__in=numbers).order_by()
    return {(floor, number): pk for pk, floor, number in rows.values_list("pk", "floor_id", "number")}
