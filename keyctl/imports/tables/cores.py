"""A table of cores: a row is a core by its tag, what it is keyed to, and where it is.

What the pins are no table says: a core comes in unpinned, also into the door that it is found in. A core that
is on record is moved and keyed anew by the rules of its page.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.cores.disputes import refuse_disputed, refuse_disputed_housing
from keyctl.cores.leaving import refuse_to_leave
from keyctl.cores.models import Core
from keyctl.cores.services.move import refuse_move
from keyctl.cores.services.register import refuse_symbols, refuse_system
from keyctl.imports.kinds import Fault, Field, Given, Kind, Planned, planned
from keyctl.imports.tables.corewriting import CORES, by_symbol, loaded_systems
from keyctl.imports.tables.rows import SITE, TableRow, rows_of, stepping
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_sentence
from keyctl.lib.tags import grouped, new_tag
from keyctl.places.models import Housing
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

Place = Core.Place
SHORTEST_TAG, LONGEST_TAG = 6, 16
PLACES = {
    "shelf": Place.SHELF,
    "on the shelf": Place.SHELF,
    "bench": Place.BENCH,
    "on the bench": Place.BENCH,
    "door": Place.HOUSING,
    "housing": Place.HOUSING,
    "in a housing": Place.HOUSING,
    "gone": Place.GONE,
    "case": Place.CASE,
    "in a person's case": Place.CASE,
}
FIELDS = (
    SITE,
    Field("tag", gettext_lazy("Tag"), ("core", "core tag", "core no", "tag no")),
    Field("system", gettext_lazy("Key system"), ("system code", "key system code", "system")),
    Field("symbols", gettext_lazy("Keyed to"), ("symbol", "key symbol", "key set", "keys")),
    Field("format", gettext_lazy("Core format"), ("format", "format id", "core type")),
    Field("place", gettext_lazy("Where it is: shelf, bench, door"), ("place", "where", "location", "status")),
    Field("building", gettext_lazy("Building of its door"), ("building", "building code")),
    Field("floor", gettext_lazy("Floor of its door"), ("floor", "storey")),
    Field("door", gettext_lazy("Door number"), ("door", "door no", "opening", "room")),
    Field("lock", gettext_lazy("Which lock of the door"), ("lock", "housing")),
)
NO_KEYS = gettext_lazy("The row names a key system and no key symbol. Say what the core is keyed to.")
NO_SYSTEM = gettext_lazy(
    "No key system of this site has this code. Correct it, or leave the cell empty and name a format."
)
NO_SYMBOL = gettext_lazy("The key system has no key of this symbol. Look it up in its tree.")
NO_FORMAT = gettext_lazy("No core format is called this. Use its identifier, as its page gives it.")
PINNED = gettext_lazy("The core is pinned by our records. It is keyed anew with a work order, not by a list.")
OTHER_SYSTEM = gettext_lazy("The core is of another key system or format by our records. Correct the row.")
TAKEN = gettext_lazy(
    "Another core is in this lock by our records, or an earlier row puts one there. Use a swap order."
)
CARRIED = gettext_lazy(
    "Into a case, and out of it, a core goes by whoever carries it, on its page. Say shelf or bench."
)


@dataclass
class CoreRow:
    row: TableRow
    tag: str
    system: KeySystem | None = None
    symbols: list[KeySymbol] = field(default_factory=list)
    format_id: str = ""
    place: str = ""
    housing: Housing | None = None
    core: Core | None = None


@dataclass
class CoreTable:
    given: Given
    systems: dict[str, KeySystem]
    seen: dict[str, int] = field(default_factory=dict)
    filled: set[UUID] = field(default_factory=set)

    def plan(self) -> Iterator[Planned | Fault]:
        for chunk in stepping(self.given, rows_of(self.given)):
            found = [self._read(row) for row in chunk]
            self._find_symbols(found)
            self._find_housings(found)
            self._find_cores(found)
            states = CORES.states(each.core.pk for each in found if each.core)
            for each in found:
                entry = self._planned(each, states) if each.row.is_sound else None
                yield from each.row.faults
                if entry and each.row.is_sound:
                    yield entry

    def _read(self, row: TableRow) -> CoreRow:
        found = CoreRow(row, row.tag("tag", SHORTEST_TAG, LONGEST_TAG))
        if found.tag and self.seen.setdefault(found.tag, row.number) != row.number:
            row.fault(
                "tag",
                _("Row {seen} has this tag too. Correct one of them.").format(seen=self.seen[found.tag]),
            )
        if code := row.text("system", 20):
            found.system = self.systems.get(code.casefold())
            if found.system is None:
                row.fault("system", NO_SYSTEM)
        found.format_id = self._format(row, found.system)
        found.place = row.choice("place", PLACES, "place") or (Place.HOUSING if row.says("door") else "")
        return found

    def _format(self, row: TableRow, system: KeySystem | None) -> str:
        given = row.text("format", 40)
        if not given:
            return system.format_id if system else ""
        try:
            engine.load_format(given)
        except Refused:
            row.fault("format", NO_FORMAT)
        return given

    def _find_symbols(self, rows: Sequence[CoreRow]) -> None:
        named = {id(each): each.row.several("symbols", 20) for each in rows}
        wanted = {(each.system.pk, name) for each in rows if each.system for name in named[id(each)]}
        known = by_symbol(wanted)
        for each in rows:
            names = named[id(each)]
            if names and not each.system and not each.row.says("system"):
                each.row.fault(
                    "symbols", _("The row names keys and no key system. Say which system they are of.")
                )
            if not each.system:
                continue
            each.symbols = [known[each.system.pk, name] for name in names if (each.system.pk, name) in known]
            if len(each.symbols) < len(names):
                each.row.fault("symbols", NO_SYMBOL)

    def _find_housings(self, rows: Sequence[CoreRow]) -> None:
        wanted = {each.row.text("door", 30) for each in rows} - {""}
        found: dict[str, list[Housing]] = defaultdict(list)
        housings = Housing.objects.filter(
            door__number__in=wanted, door__floor__building__site=self.given.imported.site
        )
        for housing in housings.select_related("door__floor__building__site") if wanted else ():
            found[housing.door.number].append(housing)
        for each in rows:
            if each.place == Place.HOUSING and each.row.is_sound:
                each.housing = self._housing(each.row, found.get(each.row.text("door", 30), []))

    def _housing(self, row: TableRow, found: Sequence[Housing]) -> Housing | None:
        building = row.text("building", 120).casefold()
        floor, lock = row.text("floor", 40).casefold(), row.text("lock", 80).casefold()
        here = [
            housing
            for housing in found
            if building in {"", housing.door.building.code.casefold(), housing.door.building.name.casefold()}
            and floor in {"", housing.door.floor.label.casefold()}
            and lock in _names_of(housing)
        ]
        if len(here) == 1:
            return here[0]
        row.fault(
            "door",
            _("Several locks fit this row. Name the building, and which lock of the door.")
            if here
            else _(
                "No lock of this site fits this row. Bring the door and its locks in first, or correct it."
            ),
        )
        return None

    def _find_cores(self, rows: Sequence[CoreRow]) -> None:
        tags = [each.tag for each in rows if each.tag]
        cores = {core.tag: core for core in Core.objects.with_places().filter(tag__in=tags)}
        housings = [each.housing.pk for each in rows if each.housing]
        inside = dict(Core.objects.filter(housing__in=housings).values_list("housing", "pk"))
        for each in rows:
            each.core = cores.get(each.tag)
            if each.core and each.core.site_id != self.given.imported.site_id:
                each.row.fault("tag", _("A core of another site has this tag. Correct it."))
            if not each.housing:
                continue
            there = inside.get(each.housing.pk)
            if (there and there != (each.core.pk if each.core else None)) or each.housing.pk in self.filled:
                each.row.fault("door", TAKEN)
            self.filled.add(each.housing.pk)

    def _planned(self, each: CoreRow, states: Mapping[UUID, dict[str, Any]]) -> Planned | None:
        try:
            return self._changed(each, states[each.core.pk]) if each.core else self._new(each)
        except Refused as refused:
            each.row.fault("", " ".join(refused.sentences))
            return None

    def _new(self, each: CoreRow) -> Planned | None:
        if not each.format_id:
            each.row.fault(
                "system", _("The row names neither a key system nor a core format. Say one of them.")
            )
            return None
        if each.system:
            if not each.symbols:
                each.row.fault("symbols", NO_KEYS)
                return None
            refuse_system(self.given.imported.site, each.system)
            refuse_symbols(each.system, each.symbols)
        construction = engine.load_format(each.format_id).construction
        if each.system and each.system.format_id != each.format_id:
            each.row.fault("format", OTHER_SYSTEM)
        refuse_unfit(construction, each.housing)
        if each.place == Place.CASE:
            each.row.fault("place", CARRIED)
        tag = each.tag or new_tag()
        said = {
            "tag": tag,
            "site_id": str(self.given.imported.site_id),
            "system_id": str(each.system.pk) if each.system else None,
            "format_id": each.format_id,
            "construction": construction,
            "place": str(each.place or Place.BENCH),
            "housing_id": str(each.housing.pk) if each.housing else None,
            "keyed_to": sorted(str(symbol.pk) for symbol in each.symbols),
        }
        return planned(CORES, self._label(tag, each), said, None, pk=uuid4(), row=each.row.number)

    def _changed(self, each: CoreRow, now: Mapping[str, Any]) -> Planned | None:
        core = each.core
        assert core is not None  # noqa: S101 (tells the type checker)
        if (each.system and each.system.pk != core.system_id) or each.format_id not in {"", core.format_id}:
            each.row.fault("system", OTHER_SYSTEM)
            return None
        said: dict[str, Any] = {}
        if each.symbols:
            said["keyed_to"] = sorted(str(symbol.pk) for symbol in each.symbols)
        if each.place:
            said |= {"place": str(each.place), "housing_id": str(each.housing.pk) if each.housing else None}
        changed = {name for name, value in said.items() if now[name] != value}
        if changed:
            self._refuse_change(each, core, changed)
        texts = {"keyed_to": ("other keys", ", ".join(sorted(map(str, each.symbols))))}
        if not each.row.is_sound:
            return None
        return planned(
            CORES, self._label(core.tag, each), said, now, pk=core.pk, texts=texts, row=each.row.number
        )

    def _refuse_change(self, each: CoreRow, core: Core, changed: set[str]) -> None:
        refuse_disputed(core)
        if "keyed_to" in changed and core.is_pinned:
            each.row.fault("symbols", PINNED)
        if "keyed_to" in changed and each.system:
            refuse_symbols(each.system, each.symbols)
            if core.place in {Place.HOUSING, Place.GONE}:
                each.row.fault(
                    "symbols",
                    _("The core is {value}; it is keyed in hand.").format(
                        value=in_sentence(core.get_place_display())
                    ),
                )
        if {"place", "housing_id"} & changed:
            if Place.CASE in {core.place, each.place}:
                each.row.fault("place", CARRIED)
            refuse_move(core, str(each.place))
            refuse_to_leave(core, str(each.place))

    def _label(self, tag: str, each: CoreRow) -> str:
        keys = ", ".join(sorted(map(str, each.symbols)))
        return f"{grouped(tag)}{f', keyed to {keys}' if keys else ''}"


def _names_of(housing: Housing) -> set[str]:
    """As a row may name it: by its label, its kind, or both as our own tables do."""
    label = housing.label.casefold()
    return {"", label, str(housing.kind), f"{housing.kind}: {label}"}


def refuse_unfit(construction: str, housing: Housing | None) -> None:
    """A core is found in a door before anybody pins it here; that it fits is asked all the same."""
    if housing is None:
        return
    if construction != housing.construction:
        raise Refused(
            _(
                "The core is of the construction '{construction}' and {housing} takes '{construction_2}'. "
                "Correct one of them."
            ).format(construction=construction, housing=housing, construction_2=housing.construction)
        )
    refuse_disputed_housing(housing)


def plan_cores(given: Given) -> Iterator[Planned | Fault]:
    return CoreTable(given, loaded_systems(given.imported.site)).plan()


CORE_TABLE = Kind(
    name="cores",
    label=gettext_lazy("Cores"),
    hint=gettext_lazy(
        "A row a core: its tag (a new one is made where the cell is empty), its key system and what it is "
        "keyed to, or its format alone, and where it is. A core may come in with the door in which it is "
        "found; its pins are not known until somebody reads or pins it."
    ),
    takers=(Role.LOCKSMITH,),
    things=(CORES,),
    main="cores",
    plan=plan_cores,
    fields=FIELDS,
)
