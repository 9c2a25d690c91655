"""The rows of the lists of a whole system: its keys with their bittings, and its cores with their keys."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.cores.models import Core, Keying, Turn
from keyctl.lib.tags import grouped
from keyctl.places.constructions import construction_words
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of

BATCH = 500
BELOW_ALL_LEVELS = 99


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key of a bitting list."""

    kind: KeySymbol.Kind
    level: int | None
    symbol: str
    under: str
    bitting: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class CoreRow:
    """One core of a keying schedule: where it is, and which keys do something to it. No bitting."""

    building: str
    floor: str
    door: str
    room: str
    place: str
    core: str
    construction: str
    keyed_to: tuple[str, ...]
    planned: tuple[str, ...]
    is_pinned: bool
    turned: tuple[str, ...]
    withdrawn: tuple[str, ...]
    meant_to_withdraw: tuple[str, ...]

    @property
    def by_the_pins(self) -> str:
        """What the pins do, told against the plan."""
        if not self.is_pinned:
            return _("not pinned yet")
        differences = (
            (_("also turned by {keys}"), _without(self.turned, self.planned)),
            (_("not turned by {keys}"), _without(self.planned, self.turned)),
            (_("also taken out by {keys}"), _without(self.withdrawn, self.meant_to_withdraw)),
            (_("not taken out by {keys}"), _without(self.meant_to_withdraw, self.withdrawn)),
        )
        told = [words.format(keys=" ".join(keys)) for words, keys in differences if keys]
        return "; ".join(told) or _("as planned")


class Tree:
    """The keys of a system by name and master, without their bittings."""

    def __init__(self, system: KeySystem) -> None:
        fields = ("pk", "symbol", "parent_id", "ordinal", "kind")
        rows = KeySymbol.objects.filter(system=system).values_list(*fields)
        self.names: dict[UUID, str] = {}
        self._parents: dict[UUID, UUID | None] = {}
        self._ordinals: dict[UUID, int] = {}
        self.controls: list[str] = []
        for pk, name, parent, ordinal, kind in rows:
            self.names[pk], self._parents[pk], self._ordinals[pk] = name, parent, ordinal
            if kind == KeySymbol.Kind.CONTROL:
                self.controls.append(name)

    def line(self, key: UUID) -> Iterator[UUID]:
        """The key and the masters above it, nearest first."""
        at: UUID | None = key
        while at is not None:
            yield at
            at = self._parents[at]

    def path(self, key: UUID) -> tuple[int, ...]:
        """Its place in the tree, to put keys under one master beside each other."""
        return tuple(self._ordinals[each] for each in self.line(key))[::-1]


def key_rows(system: KeySystem, only: Collection[UUID] | None = None) -> list[KeyRow]:
    """Every key with its bitting, or ``only`` some, level by level. The caller has told history before."""
    tree = Tree(system)
    keys = KeySymbol.objects.filter(system=system).only("symbol", "kind", "level", "parent_id", "bitting")
    if only is not None:
        keys = keys.filter(pk__in=only)
    found = sorted(
        keys.iterator(chunk_size=2000), key=lambda key: (_rank(key), tree.path(key.pk), key.symbol)
    )
    return [_key_row(tree, key) for key in found]


def core_rows(system: KeySystem, site: Site) -> list[CoreRow]:
    """Every core of a system that is somewhere at a site: those in doors in the order of the doors."""
    cores = list(
        Core.objects.filter(system=system, site=site)
        .exclude(place=Core.Place.GONE)
        .select_related("housing__door__floor__building__site", "carrier")
        .defer("pinning")
        .order_by(
            "housing__door__floor__building__code",
            "housing__door__floor__level",
            "housing__door__number",
            "housing__label",
            "tag",
        )
    )
    cores.sort(key=lambda core: core.housing_id is None)
    tree, rows = Tree(system), list[CoreRow]()
    for start in range(0, len(cores), BATCH):
        rows += _batch_of_rows(system, tree, cores[start : start + BATCH])
    return rows


def count_cores(system: KeySystem, site: Site) -> int:
    return Core.objects.filter(system=system, site=site).exclude(place=Core.Place.GONE).count()


def _rank(key: KeySymbol) -> int:
    return BELOW_ALL_LEVELS if key.level is None else key.level


def _key_row(tree: Tree, key: KeySymbol) -> KeyRow:
    under = tree.names[key.parent_id] if key.parent_id else ""
    return KeyRow(KeySymbol.Kind(key.kind), key.level, key.symbol, under, bitting_of(key))


def _batch_of_rows(system: KeySystem, tree: Tree, cores: list[Core]) -> Iterator[CoreRow]:
    keyed: dict[UUID, list[UUID]] = defaultdict(list)
    for core_id, symbol_id in Keying.objects.filter(core__in=cores).values_list("core_id", "symbol_id"):
        keyed[core_id].append(symbol_id)
    turned, withdrawn = _turns(system, cores)
    for core in cores:
        symbols = sorted(keyed[core.pk], key=tree.path)
        planned = {key: None for symbol in symbols for key in tree.line(symbol)}
        yield CoreRow(
            **_place(core),
            core=grouped(core.tag),
            construction=construction_words(core.construction),
            keyed_to=tuple(tree.names[symbol] for symbol in symbols),
            planned=tuple(tree.names[key] for key in planned),
            is_pinned=core.pinned_at is not None,
            turned=longest_first(turned[core.pk]),
            withdrawn=longest_first(withdrawn[core.pk]),
            meant_to_withdraw=tuple(tree.controls),
        )


def _turns(system: KeySystem, cores: list[Core]) -> tuple[dict[UUID, list[str]], dict[UUID, list[str]]]:
    """Per core the keys that turn it and those that take it out; another system's key with its code."""
    turned: dict[UUID, list[str]] = defaultdict(list)
    withdrawn: dict[UUID, list[str]] = defaultdict(list)
    turns = Turn.objects.filter(core__in=cores).values_list(
        "core_id", "symbol__symbol", "symbol__system_id", "symbol__system__code", "operates", "withdraws"
    )
    for core, name, owner, code, operates, withdraws in turns:
        shown = name if owner == system.pk else f"{code}/{name}"
        if operates:
            turned[core].append(shown)
        if withdraws:
            withdrawn[core].append(shown)
    return turned, withdrawn


def longest_first(names: Iterable[str]) -> tuple[str, ...]:
    """Change keys before the masters above them, as the plan names them."""
    return tuple(sorted(names, key=lambda name: (-len(name), name)))


def _place(core: Core) -> dict[str, str]:
    if core.housing is None:
        return {"building": "", "floor": "", "door": "", "room": "", "place": core.whereabouts}
    door = core.housing.door
    return {
        "building": door.building.code,
        "floor": door.floor.label,
        "door": door.number,
        "room": door.name,
        "place": core.housing.label or core.housing.get_kind_display(),
    }


def _without(keys: Iterable[str], others: Collection[str]) -> list[str]:
    return [key for key in keys if key not in others]
