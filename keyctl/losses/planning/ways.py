"""What a way of rekeying comes to: keys to make, cores as they shall be, what is retired."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.utils.translation import gettext

from keyctl import engine
from keyctl.lib.numbers import as_number
from keyctl.losses.planning.ground import Ground, Kind, Tree
from keyctl.losses.planning.scope import Place, Scope

Ref = UUID | str
"""A key by its identifier, or one to come by its name in the way."""

REPLACE, TAKE_OUT, NEW_PART = "replace", "take-out", "new-part"
MOST_NAMED = 5


class NotPossible(Exception):
    """Why a way cannot be carried out, in sentences."""

    def __init__(self, *sentences: str) -> None:
        self.sentences = sentences
        super().__init__(*sentences)


@dataclass(frozen=True)
class ComingKey:
    """A key to make. ``ref`` names it within the way; a system to come is None."""

    ref: str
    system: UUID | None
    symbol: str
    kind: str
    parent: Ref | None
    level: int
    ordinal: int
    replaces: UUID
    bitting: str = field(repr=False)
    room: int | None = None


@dataclass
class Way:
    """One way for one scope.

    ``keyed`` says what each core is keyed to from then on, ``pins`` how it is pinned. ``moved`` are keys that
    get another master; ``retired`` are never cut again. ``new_system`` are the sealed figures of a system to
    come.
    """

    kind: str
    scope: Scope
    coming: list[ComingKey] = field(default_factory=list)
    keyed: dict[UUID, tuple[Ref, ...]] = field(default_factory=dict)
    pins: dict[UUID, engine.Pinning] = field(default_factory=dict, repr=False)
    moved: dict[UUID, Ref] = field(default_factory=dict)
    retired: set[UUID] = field(default_factory=set)
    new_system: dict[str, object] | None = field(default=None, repr=False)
    called_back: int = 0
    why_not: tuple[str, ...] = ()
    told: list[str] = field(default_factory=list)

    _namers: dict[UUID, "Namer"] = field(default_factory=dict)

    def namer(self, tree: Tree) -> "Namer":
        return self._namers.setdefault(tree.system.pk, Namer(tree))

    @property
    def is_possible(self) -> bool:
        return not self.why_not

    @property
    def open_places(self) -> list[Place]:
        """Exposed doors that the lost keys still open when this is done."""
        return [*self.scope.left.values(), *(p for c, p in self.scope.places.items() if c not in self.keyed)]


class Namer:
    """Symbols and places for keys to come, none of them twice."""

    def __init__(self, tree: Tree) -> None:
        self.tree = tree
        self._taken = {node.symbol for node in tree.nodes.values()}
        self._last: dict[tuple[Ref | None, str], int] = {}

    def next_below(self, parent: UUID, kind: str) -> tuple[str, int]:
        """The next symbol under a key that is there."""
        nodes = self.tree.nodes
        path = [node.ordinal for key in reversed(list(self.tree.up(parent))) if (node := nodes[key]).level]
        return self.next_at(parent, path, kind)

    def next_at(self, parent: Ref | None, path: Sequence[int], kind: str) -> tuple[str, int]:
        levels = self.tree.system.levels
        while True:
            ordinal = self.ordinal_under(parent, kind)
            name = engine.symbol_below(levels, path, ordinal, is_master=kind == Kind.MASTER)
            if name not in self._taken:
                self._taken.add(name)
                return name, ordinal

    def again(self, symbol: str) -> str:
        """The same key, cut anew: AA-2 after AA, AA-3 after AA-2."""
        stem, _, number = symbol.rpartition("-")
        stem, last = (stem, int(number)) if stem and number.isdecimal() else (symbol, 1)
        while (name := f"{stem}-{last + 1}") in self._taken:
            last += 1
        self._taken.add(name)
        return name

    def ordinal_under(self, parent: Ref | None, kind: str) -> int:
        """The next number under a key, or among the top keys."""
        if (parent, kind) not in self._last:
            alike = self._siblings(parent)
            ordinals = [self.tree.nodes[key].ordinal for key in alike if self.tree.nodes[key].kind == kind]
            self._last[parent, kind] = max(ordinals, default=-1)
        self._last[parent, kind] += 1
        return self._last[parent, kind]

    def _siblings(self, parent: Ref | None) -> Iterable[UUID]:
        if isinstance(parent, UUID):
            return self.tree.children.get(parent, ())
        if parent is None:
            return [pk for pk, node in self.tree.nodes.items() if node.level == 0]
        return ()


def line_of(tree: Tree, place: Place) -> set[UUID]:
    """The keys that the core is pinned to by the plan."""
    return {key for symbol in place.keyed for key in tree.line(symbol)}


def pinned_for(
    world: engine.RekeyWorld, keys: dict[UUID, set[Ref]], tree: Tree
) -> dict[UUID, engine.Rekeyed]:
    """Every core as it shall be; refused where the kit or the control key do not allow it."""
    found = {}
    for core, line in keys.items():
        pins = world.pin(line)
        if pins is None:
            raise NotPossible(
                gettext(
                    "{code}: one of the cores cannot be pinned to these keys together; the kit or "
                    "the control "
                    "key do not allow it."
                ).format(code=tree.system.code)
            )
        found[core] = engine.Rekeyed(frozenset(line), pins)
    return found


def refuse_faults(proven: engine.Proven, code: str) -> None:
    if proven.is_good:
        return
    told = sorted(set(proven.faults.values()))
    raise NotPossible(
        *(
            gettext("{code}: {words} ({faults} found by the pins).").format(
                code=code, words=engine.say(words), faults=as_number(len(proven.faults))
            )
            for words in told
        )
    )


def without_bittings(ground: Ground, system: UUID, refs: Iterable[str]) -> None:
    """Keys that were only thought of leave the ground for the next way."""
    world = ground.world(system)
    world.without_keys([ref for ref in refs if ref in world.keys])
