"""What each place is called in the file: by its last file's name where there was one, and told apart."""

from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple
from uuid import UUID

from keyctl.lib.guids import guid_of
from keyctl.places.models import Building, Identifier

OURS: Final = "keyctl"


class Given(NamedTuple):
    """System and identifier, and what the file that brought it called the place."""

    system: str
    value: str
    name: str = ""


class Identifiers:
    """Of all places of a building; one that no program named has an identifier made of ours."""

    def __init__(self, building: Building) -> None:
        self._given: dict[UUID, Given] = {}
        for kind, way in (
            ("building", "building"),
            ("floor", "floor__building"),
            ("space", "space__floor__building"),
            ("door", "door__floor__building"),
        ):
            self._read(kind, {way: building})

    def of(self, pk: UUID) -> Given:
        return self._given.get(pk) or Given(OURS, guid_of(pk))

    def _read(self, kind: str, where: Mapping[str, object]) -> None:
        rows = Identifier.objects.filter(kind=kind, **where).order_by("pk")
        for source, system, value, name, pk in rows.values_list("source", "system", "value", "name", kind):
            is_global = source == Identifier.GLOBAL_ID
            if is_global or pk not in self._given:
                self._given[pk] = Given(system or source, value, name)


class Names:
    """Names that are given once each in a sheet, whatever the case."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def take(self, wanted: Iterable[str]) -> str:
        """The first that is free, else the last with a number."""
        last = ""
        for last in wanted:
            if last.casefold() not in self._taken:
                break
        name, number = last, 1
        while name.casefold() in self._taken:
            number += 1
            name = f"{last} ({number})"
        self._taken.add(name.casefold())
        return name
