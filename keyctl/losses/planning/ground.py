"""What plans are made from, read once for all plans of a case: trees of symbols, keys and pins unsealed."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from keyctl import engine
from keyctl.cores.models import Core, Keying
from keyctl.cores.turning import KeyFamily
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of, design_of, is_designed

Kind = KeySymbol.Kind
Watch = Callable[[], None]

KEYINGS_AT_ONCE = 500
GONE = Core.Place.GONE


@dataclass(frozen=True, slots=True)
class Node:
    """A key of a system without its bitting."""

    pk: UUID
    parent: UUID | None
    kind: str
    level: int | None
    ordinal: int
    symbol: str
    is_retired: bool

    @property
    def is_master(self) -> bool:
        return self.kind == Kind.MASTER


@dataclass
class Tree:
    """All keys of a system, in the order of their levels."""

    system: KeySystem
    nodes: dict[UUID, Node]
    children: dict[UUID, list[UUID]] = field(default_factory=dict)

    @classmethod
    def of(cls, system: KeySystem) -> "Tree":
        rows = system.symbols.order_by("level", "ordinal", "symbol").values_list(
            "pk", "parent", "kind", "level", "ordinal", "symbol", "retired_at"
        )
        nodes = (
            Node(pk, parent, kind, level, ordinal, symbol, retired is not None)
            for pk, parent, kind, level, ordinal, symbol, retired in rows
        )
        tree = cls(system, {node.pk: node for node in nodes})
        for node in tree.nodes.values():
            if node.parent is not None:
                tree.children.setdefault(node.parent, []).append(node.pk)
        return tree

    @property
    def control(self) -> UUID | None:
        return next((pk for pk, node in self.nodes.items() if node.kind == Kind.CONTROL), None)

    def up(self, pk: UUID) -> Iterator[UUID]:
        """The key and all above it, retired or not."""
        step: UUID | None = pk
        while step is not None:
            yield step
            step = self.nodes[step].parent

    def line(self, pk: UUID) -> list[UUID]:
        """The keys that a core is pinned to which is keyed to this one."""
        return [key for key in self.up(pk) if not self.nodes[key].is_retired]

    def below(self, pk: UUID) -> Iterator[UUID]:
        """Everything under a key, each after its master."""
        for child in self.children.get(pk, ()):
            yield child
            yield from self.below(child)

    def step_below(self, pk: UUID, master: UUID) -> UUID | None:
        """The key right below a master on the way to this one: itself where it is the master; else None."""
        last = pk
        for key in self.up(pk):
            if key == master:
                return last
            last = key
        return None


class Ground:
    """Systems, their trees, the keys that enter their cores and the cores that their keys enter.

    Who starts planning has told history: every bitting and every pin of a keyway is read here.
    """

    def __init__(self, lost: frozenset[UUID], watch: Watch = lambda: None) -> None:
        """``watch`` is called every so often, and may raise to stop."""
        self.lost, self.watch = lost, watch
        self._trees: dict[UUID, Tree] = {}
        self._worlds: dict[UUID, engine.RekeyWorld] = {}
        self._pins: dict[KeyFamily, dict[UUID, engine.Pinning]] = {}
        self._texts: dict[KeyFamily, dict[UUID, str]] = {}

    def tree(self, system: UUID) -> Tree:
        if system not in self._trees:
            self._trees[system] = Tree.of(KeySystem.objects.get(pk=system))
        return self._trees[system]

    def world(self, system: UUID) -> engine.RekeyWorld:
        if system not in self._worlds:
            tree = self.tree(system)
            cores: dict[UUID, engine.Pinning] = {}
            for family in KeyFamily.entered_by(tree.system):
                cores |= self._pins_of(family)
            self._worlds[system] = engine.RekeyWorld(
                tree.system.format_id,
                self._keys_of(KeyFamily.of(tree.system)),
                cores,
                lost=self.lost,
                control=tree.control,
            )
        return self._worlds[system]

    def text(self, system: UUID, key: UUID) -> str:
        return self._keys_of(KeyFamily.of(self.tree(system).system))[key]

    def design(self, system: UUID) -> engine.Design | None:
        found = self.tree(system).system
        return design_of(found) if is_designed(found) else None

    def pins(self, system: UUID, core: UUID) -> engine.Pinning:
        """As the core is pinned now."""
        found: engine.Pinning = self.world(system).cores[core]
        return found

    def _pins_of(self, family: KeyFamily) -> dict[UUID, engine.Pinning]:
        if family not in self._pins:
            self._pins[family] = {core.pk: pins for core, pins in family.cores() if core.place != GONE}
        return self._pins[family]

    def _keys_of(self, family: KeyFamily) -> dict[UUID, str]:
        if family not in self._texts:
            rows = family.symbols().only("bitting").order_by().iterator()
            self._texts[family] = {symbol.pk: bitting_of(symbol) for symbol in rows}
        return self._texts[family]


def keyed_directly(cores: list[UUID]) -> dict[UUID, list[UUID]]:
    """By core, the symbols it is keyed to."""
    found: dict[UUID, list[UUID]] = {core: [] for core in cores}
    for start in range(0, len(cores), KEYINGS_AT_ONCE):
        part = Keying.objects.filter(core__in=cores[start : start + KEYINGS_AT_ONCE])
        for core, symbol in part.order_by("symbol").values_list("core", "symbol"):
            found[core].append(symbol)
    return found


def still_keyed(inside: Mapping[UUID, set[UUID]]) -> set[UUID]:
    """Of these keys, those that a core is keyed to which is not among its own here."""
    rows = Keying.objects.filter(symbol__in=inside).exclude(core__place=GONE)
    return {symbol for symbol, core in rows.values_list("symbol", "core") if core not in inside[symbol]}
