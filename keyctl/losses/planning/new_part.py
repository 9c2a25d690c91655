"""New keys for the whole part below a lost master: a free page of the system, or a new system."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from random import SystemRandom
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from keyctl import engine
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number
from keyctl.losses.planning.ground import Ground, Kind, Tree
from keyctl.losses.planning.scope import Place, Scope
from keyctl.losses.planning.ways import (
    NEW_PART,
    ComingKey,
    Namer,
    NotPossible,
    Ref,
    Way,
    line_of,
    pinned_for,
)

MOST_PAGES, MOST_ROUNDS, MOST_DRAWS = 64, 4, 12
NEW_CONTROL = "new:control"
IN_USE = (KeyCopy.State.HELD, KeyCopy.State.IN_CABINET)


def new_part(ground: Ground, scope: Scope) -> Way:
    way = Way(NEW_PART, scope)
    try:
        for system, places in scope.by_system().items():
            tree = ground.tree(system)
            for root in lost_roots(ground, tree):
                _Part(ground, way, tree, root, places).run()
    except NotPossible as refused:
        way.why_not = refused.sentences
    if not way.keyed and not way.why_not:
        way.why_not = (gettext("No master is lost: there is no part below it to key anew."),)
    return way


def lost_roots(ground: Ground, tree: Tree) -> list[UUID]:
    """Lost masters that stand below no other lost one."""
    lost = {key for key in ground.lost if key in tree.nodes and tree.nodes[key].is_master}
    return [key for key in sorted(lost, key=str) if not lost & set(islice(tree.up(key), 1, None))]


@dataclass
class _Branch:
    """A try: bittings for the keys to come, by the key that each replaces, and how its children are found."""

    texts: dict[UUID, str] = field(default_factory=dict, repr=False)
    design: engine.Design | None = None


class _Part:
    """The keys in use below one lost master, made anew."""

    def __init__(self, ground: Ground, way: Way, tree: Tree, root: UUID, places: list[Place]) -> None:
        self.ground, self.way, self.tree, self.root = ground, way, tree, root
        self.world = ground.world(tree.system.pk)
        self.places = [place for place in places if self._is_below(place)]
        self.needed = self._needed()
        self.refs = {key: f"new:{len(way.coming) + nth}" for nth, key in enumerate(self.needed)}
        self.taken = {bitting.text for bitting in self.world.keys.values()}
        self.banned: set[str] = set()

    def run(self) -> None:
        if not self.places:
            return
        if self.tree.nodes[self.root].parent is None:
            self._run_new_system()
        else:
            self._run_new_page()

    def _is_below(self, place: Place) -> bool:
        return any(self.tree.step_below(key, self.root) is not None for key in place.keyed)

    def _needed(self) -> list[UUID]:
        """The lost master and what is in use below it, each after its master."""
        used = {key for place in self.places for key in place.keyed}
        if self.way.scope.is_all:
            below = self.tree.system.symbols.filter(copies__state__in=IN_USE)
            used |= set(below.values_list("pk", flat=True))
        wanted = {self.root}
        for key in used:
            steps = list(self.tree.up(key))
            if self.root in steps:
                wanted |= set(steps[: steps.index(self.root)])
        return [key for key in (self.root, *self.tree.below(self.root)) if key in wanted]

    def _run_new_page(self) -> None:
        """The next page below the master above on which everything fits."""
        parent = self.tree.nodes[self.root].parent
        assert parent is not None  # noqa: S101 (a top master has been sent the other way)
        branch = _Branch(design=self.ground.design(self.tree.system.pk))
        pages = self._candidates(parent, self.world.keys[parent].text, branch)
        for page in islice(pages, MOST_PAGES):
            self.ground.watch()
            if self._fits(branch, page):
                return
        raise NotPossible(
            gettext(
                "Below {symbol} no free page was found that holds {number} keys and that nothing else is "
                "turned by."
            ).format(symbol=self.tree.nodes[parent].symbol, number=as_number(len(self.needed) - 1))
        )

    def _run_new_system(self) -> None:
        for _ in range(MOST_DRAWS):
            self.ground.watch()
            design = self._drawn()
            branch = _Branch(design=design)
            control = design.control
            if control is None:
                fits = self._fits(branch, design.tree.master.text)
            else:
                with self.world.control_key(NEW_CONTROL, control):
                    fits = self._fits(branch, design.tree.master.text)
            if fits:
                self.way.new_system = {
                    "instead_of": str(self.tree.system.pk),
                    "levels": self.tree.system.levels,
                    "design": design.parameters,
                    "control": control,
                }
                return
        raise NotPossible(
            gettext(
                "{most_draws} new systems were drawn in the same keyway, and none took all {needed} keys "
                "without one turning what it must not. That does not prove that there is none; a new keyway "
                "shuts the lost key out for certain."
            ).format(most_draws=MOST_DRAWS, needed=as_number(len(self.needed)))
        )

    def _drawn(self) -> engine.Design:
        design = self.ground.design(self.tree.system.pk)
        try:
            if design is not None:
                lost = [self.world.keys[key].text for key in self.ground.lost if key in self.world.keys]
                return engine.redraw(design, SystemRandom(), lost)
            wanted = engine.Wanted(self.tree.system.format_id, self._needs())
            return engine.Design.work_out(wanted, SystemRandom())
        except Refused as refused:
            raise NotPossible(*refused.sentences) from None

    def _needs(self) -> tuple[int, ...]:
        """How many keys stand below one key of each level, at most."""
        most = [1] * (self.tree.system.levels - 1)
        needed = self.refs.keys()
        for key in self.needed:
            level = self.tree.nodes[key].level or 0
            count = sum(child in needed for child in self.tree.children.get(key, ()))
            if level < len(most):
                most[level] = max(most[level], count)
        return tuple(most)

    def _fits(self, branch: _Branch, root: str) -> bool:
        """Whether everything fits below this bitting of the master; a bitting that does harm is left out."""
        for _ in range(MOST_ROUNDS):
            if root in self.banned or not self._fill(branch, root):
                return False
            self.world.with_keys({self.refs[key]: text for key, text in branch.texts.items()})
            try:
                if self._is_proven():
                    self._keep(branch)
                    return True
            finally:
                self.world.without_keys([self.refs[key] for key in branch.texts])
        return False

    def _fill(self, branch: _Branch, root: str) -> bool:
        branch.texts = {self.root: root}
        needed = self.refs.keys()
        self.taken = {bitting.text for bitting in self.world.keys.values()}
        for key in self.needed:
            below = [child for child in self.tree.children.get(key, ()) if child in needed]
            found = (
                list(islice(self._candidates(key, branch.texts[key], branch), len(below))) if below else []
            )
            if len(found) < len(below):
                return False
            branch.texts |= dict(zip(below, found, strict=True))
        return True

    def _candidates(self, key: UUID, text: str, branch: _Branch) -> Iterator[str]:
        """Bittings below a key that has this bitting from now on, none of them any key's yet."""
        node = self.tree.nodes[key]
        free: list[int] = []
        if branch.design is None:
            below = [self.world.keys[child].text for child in self.tree.children.get(key, ())]
            free = engine.differing_positions(self.world.keys[key].text, below)
        found = engine.changes_below(self.tree.system.format_id, text, branch.design, node.level or 0, free)
        return (key.text for key in found if key.text not in self.taken and key.text not in self.banned)

    def _is_proven(self) -> bool:
        lines: dict[UUID, set[Ref]] = {
            place.core: {self.refs.get(key, key) for key in self._line(place)} for place in self.places
        }
        planned = pinned_for(self.world, lines, self.tree)
        proven = self.world.prove(planned, self.refs.values(), self._leaving())
        if proven.is_good:
            self.way.called_back += proven.called_back
            self.way.pins |= {core: rekeyed.pins for core, rekeyed in planned.items()}
            return True
        self._ban(proven)
        return False

    def _line(self, place: Place) -> set[UUID]:
        """A core of a new system keeps no key of the old one."""
        line = line_of(self.tree, place)
        if self.tree.nodes[self.root].parent is not None:
            return line
        return {key for key in line if key in self.refs}

    def _ban(self, proven: engine.Proven) -> None:
        """The change keys of what is wrong get other cuts in the next round."""
        by_core = {place.core: place for place in self.places}
        for thing in proven.faults:
            keys = by_core[thing].keyed if isinstance(thing, UUID) and thing in by_core else ()
            refs: list[Any] = [self.refs[key] for key in keys if key in self.refs] or [thing]
            self.banned |= {self.world.keys[ref].text for ref in refs if ref in self.world.keys}

    def _leaving(self) -> set[UUID]:
        if not self.way.scope.is_all:
            return set()
        return {self.root, *self.tree.below(self.root)}

    def _keep(self, branch: _Branch) -> None:
        is_new_system = self.tree.nodes[self.root].parent is None
        system = None if is_new_system else self.tree.system.pk
        names = _Names(self.way.namer(self.tree), self.root, is_new_system=is_new_system)
        for key in self.needed:
            node, text = self.tree.nodes[key], branch.texts[key]
            parent = self.refs.get(node.parent, node.parent) if node.parent else None
            symbol, ordinal = names.of(key)
            level = node.level or 0
            room = branch.design.room_below(text, level) if branch.design and node.is_master else None
            self.way.coming.append(
                ComingKey(self.refs[key], system, symbol, node.kind, parent, level, ordinal, key, text, room)
            )
        for place in self.places:
            self.way.keyed[place.core] = tuple(self.refs.get(key, key) for key in place.keyed)
        if self.way.scope.is_all:
            self.way.retired |= self._leaving()


class _Names:
    """Symbols of a new part: numbered on in the same system, from the start in a new one."""

    def __init__(self, namer: Namer, root: UUID, *, is_new_system: bool) -> None:
        self.namer, self.root, self.is_new_system = namer, root, is_new_system
        self.tree = namer.tree
        self._paths: dict[UUID, tuple[int, ...]] = {}
        self._next: dict[tuple[tuple[int, ...], str], int] = {}

    def of(self, key: UUID) -> tuple[str, int]:
        node = self.tree.nodes[key]
        if key == self.root and self.is_new_system:
            self._paths[key] = ()
            return engine.key_symbol(self.tree.system.levels, ()), 0
        if key == self.root and node.parent is not None:
            symbol, ordinal = self.namer.next_below(node.parent, node.kind)
            self._paths[key] = (*self._path(node.parent), ordinal)
            return symbol, ordinal
        assert node.parent is not None  # noqa: S101 (below the root everything has a master)
        return self._below(key, self._paths[node.parent])

    def _below(self, key: UUID, path: tuple[int, ...]) -> tuple[str, int]:
        kind = self.tree.nodes[key].kind
        ordinal = self._next.get((path, kind), 0)
        self._next[path, kind] = ordinal + 1
        self._paths[key] = (*path, ordinal)
        levels = self.tree.system.levels
        return engine.symbol_below(levels, path, ordinal, is_master=kind == Kind.MASTER), ordinal

    def _path(self, key: UUID) -> tuple[int, ...]:
        nodes = self.tree.nodes
        return tuple(nodes[step].ordinal for step in reversed(list(self.tree.up(key))) if nodes[step].level)
