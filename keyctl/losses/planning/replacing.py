"""Another key in the place of each lost one: the doors get new cuts of one key, and every other key stays."""

from collections.abc import Iterable
from uuid import UUID

from django.utils.translation import gettext, gettext_lazy

from keyctl import engine
from keyctl.lib.numbers import as_number
from keyctl.losses.planning.ground import Ground, Kind, Node, still_keyed
from keyctl.losses.planning.scope import Place, Scope
from keyctl.losses.planning.ways import (
    REPLACE,
    ComingKey,
    NotPossible,
    Ref,
    Way,
    line_of,
    pinned_for,
    refuse_faults,
    without_bittings,
)

SECONDS_A_KEY = 120

WHY_NOT = {
    "kept": (
        gettext_lazy(
            "The other keys of {cores} of the cores let the lost cuts in anyhow: no new cuts of "
            "{symbol} help."
        )
    ),
    "kit": gettext_lazy("There are no pins for any other cuts of {symbol} beside the keys that stay."),
    "crowded": (
        gettext_lazy(
            "Every bitting in the place of {symbol} is taken, or would let some other key in where it "
            "must not: proven by trying them all."
        )
    ),
    "used_up": gettext_lazy("Below the master of {symbol} no key is left that nothing else is turned by."),
    "time": gettext_lazy(
        "No new cuts of {symbol} were found in the time; that does not mean that there are none."
    ),
}


def replace_lost(ground: Ground, scope: Scope) -> Way:
    """Change keys get the next free bitting of their page; masters are searched for."""
    way = Way(REPLACE, scope)
    for system, places in scope.by_system().items():
        work = _Replacing(ground, way, system, places)
        try:
            work.run()
        except NotPossible as refused:
            way.why_not += refused.sentences
        finally:
            without_bittings(ground, system, [key.ref for key in way.coming])
    if not way.keyed and not way.why_not:
        way.why_not = (gettext("No exposed core is keyed to a system."),)
    return way


class _Replacing:
    """The cores of one system."""

    def __init__(self, ground: Ground, way: Way, system: UUID, places: list[Place]) -> None:
        self.ground, self.way = ground, way
        self.tree, self.world = ground.tree(system), ground.world(system)
        self.places = {place.core: place for place in places}
        self.namer = way.namer(self.tree)
        self.lines: dict[UUID, set[Ref]] = {}
        self.instead: dict[UUID, str] = {}
        # As far as they have new keys: what comes later must not turn them.
        self.begun: dict[UUID, engine.Pinning] = {}
        self.left_open = False

    def run(self) -> None:
        targets = self._targets()
        self._leave_in_line(targets)
        if helpless := self._with_other_changes(targets):
            self._leave_open(helpless, targets)
        for target in sorted(targets, key=lambda key: (self._node(key).level or 0, self._node(key).symbol)):
            self._replace(target, targets[target])
        planned = pinned_for(self.world, self.lines, self.tree)
        leaving = self._retired(targets)
        proven = self.world.prove(planned, self.instead.values(), leaving)
        refuse_faults(proven, self.tree.system.code)
        self._keep(planned, targets, leaving, proven)

    def _targets(self) -> dict[UUID, set[UUID]]:
        """By key to replace, the cores in which it is: the lost keys of each core, or where none of them is
        meant to turn it, the change keys whose cuts let a lost one in.
        """
        found: dict[UUID, set[UUID]] = {}
        for core, place in self.places.items():
            line = line_of(self.tree, place)
            meant = line & self.ground.lost or {
                key for key in place.keyed if self._node(key).kind == Kind.CHANGE
            }
            if not meant:
                raise NotPossible(
                    gettext(
                        "{code}: a core that is keyed to masters alone lets a lost key in; key it to a "
                        "change key by hand."
                    ).format(code=self.tree.system.code)
                )
            for key in meant:
                found.setdefault(key, set()).add(core)
        return found

    def _leave_in_line(self, targets: dict[UUID, set[UUID]]) -> None:
        for core, place in self.places.items():
            self.lines[core] = {key for key in line_of(self.tree, place) if core not in targets.get(key, ())}

    def _with_other_changes(self, targets: dict[UUID, set[UUID]]) -> list[UUID]:
        """Where the keys that stay let a lost one in, the core's other change keys give way too, there only.

        Returns the cores for which that does not help either.
        """
        crossed = self._let_in_anyhow()
        if self._lost_masters(targets):
            return crossed
        for core in crossed:
            for key in self.places[core].keyed:
                if self._node(key).kind == Kind.CHANGE:
                    targets.setdefault(key, set()).add(core)
        self._leave_in_line(targets)
        if helped := set(crossed) - set(still := self._let_in_anyhow()):
            self.way.told.append(
                gettext(
                    "In {helped} cross-keyed cores the other change keys are replaced too: their cuts and "
                    "the masters' together are those of the lost key. Who has such a key needs one more."
                ).format(helped=as_number(len(helped)))
            )
        return still

    def _lost_masters(self, targets: Iterable[UUID]) -> list[UUID]:
        return [key for key in targets if key in self.ground.lost and self._node(key).is_master]

    def _let_in_anyhow(self) -> list[UUID]:
        found: list[UUID] = self.world.let_in_anyhow({core: list(line) for core, line in self.lines.items()})
        return found

    def _leave_open(self, helpless: list[UUID], targets: dict[UUID, set[UUID]]) -> None:
        """A lost master goes from all cores or from none; others go from those where it can be done."""
        if self._lost_masters(targets) or len(helpless) == len(self.places):
            names = ", ".join(sorted(self._node(key).symbol for key in targets if key in self.ground.lost))
            raise NotPossible(
                WHY_NOT["kept"].format(symbol=names or gettext("these doors"), cores=len(helpless))
            )
        self.left_open = True
        for core in helpless:
            del self.places[core], self.lines[core]
        for key, cores in list(targets.items()):
            targets[key] = cores - set(helpless)
            if not targets[key]:
                del targets[key]

    def _replace(self, target: UUID, cores: Iterable[UUID]) -> None:
        self.ground.watch()
        node, kept = self._node(target), {core: list(self.lines[core]) for core in sorted(cores)}
        found = self._found(node, kept)
        if found.bitting is None:
            raise NotPossible(
                WHY_NOT[found.reason].format(symbol=node.symbol, cores=as_number(len(found.cores)))
            )
        ref = f"new:{len(self.way.coming)}"
        self.way.coming.append(self._coming(ref, node, found.bitting.text))
        self.instead[target] = ref
        self.world.with_keys({ref: found.bitting.text})
        for core in kept:
            self.lines[core].add(ref)
            if pins := self.world.pin(self.lines[core]):
                self.begun[core] = pins

    def _found(self, node: Node, kept: dict[UUID, list[Ref]]) -> engine.Replacement:
        if node.is_master or node.parent is None:
            return self._searched(kept)
        found = self._searched(kept, self._changes(node))
        if found.reason == "used_up":
            found = self._searched(kept)
            if found.bitting is not None:
                self.way.told.append(
                    gettext(
                        "No change of its page is free for {symbol}: the new one stands outside it."
                    ).format(symbol=node.symbol)
                )
        return found

    def _searched(
        self, kept: dict[UUID, list[Ref]], candidates: Iterable[engine.Bitting] | None = None
    ) -> engine.Replacement:
        return self.world.replace(
            kept,
            beside=[pins for core, pins in self.begun.items() if core not in kept],
            candidates=candidates,
            limit_s=SECONDS_A_KEY,
            watch=lambda _: self.ground.watch(),
        )

    def _changes(self, node: Node) -> Iterable[engine.Bitting]:
        """The changes of its master, or of the key that takes the master's place."""
        assert node.parent is not None  # noqa: S101 (whoever calls has looked)
        system, tree = self.tree.system, self.tree
        parent = self.world.keys[self.instead.get(node.parent, node.parent)].text
        siblings = [self.world.keys[key].text for key in tree.children[node.parent] if key in self.world.keys]
        free = engine.differing_positions(self.world.keys[node.parent].text, siblings)
        return engine.changes_below(
            system.format_id, parent, self.ground.design(system.pk), tree.nodes[node.parent].level or 0, free
        )

    def _coming(self, ref: str, node: Node, bitting: str) -> ComingKey:
        parent: Ref | None = None if node.parent is None else self.instead.get(node.parent, node.parent)
        if node.is_master or node.parent is None:
            # Counted under the old master: what stands there goes over to the new one with its number.
            symbol, ordinal = self.namer.again(node.symbol), self.namer.ordinal_under(node.parent, node.kind)
        else:
            symbol, ordinal = self.namer.next_below(node.parent, node.kind)
        return ComingKey(
            ref, self.tree.system.pk, symbol, node.kind, parent, node.level or 0, ordinal, node.pk, bitting
        )

    def _retired(self, targets: dict[UUID, set[UUID]]) -> set[UUID]:
        """The lost keys where all is done; others that no core is keyed to any more."""
        is_whole = self.way.scope.is_all and not self.left_open
        lost = set(targets) & self.ground.lost if is_whole else set[UUID]()
        others = {key for key in targets if key not in self.ground.lost}
        inside = {key: cores for key, cores in targets.items() if key in others}
        return lost | (others - still_keyed(inside))

    def _keep(
        self,
        planned: dict[UUID, engine.Rekeyed],
        targets: dict[UUID, set[UUID]],
        leaving: set[UUID],
        proven: engine.Proven,
    ) -> None:
        way = self.way
        way.called_back += proven.called_back
        way.retired |= leaving
        for core, place in self.places.items():
            way.keyed[core] = tuple(
                self.instead[key] if core in targets.get(key, ()) else key for key in place.keyed
            )
            way.pins[core] = planned[core].pins
        for key, ref in self.instead.items():
            if self._node(key).is_master:
                way.moved |= dict.fromkeys(self._branches(key), ref)

    def _branches(self, master: UUID) -> set[UUID]:
        """What stands right below a master and goes over to the new one."""
        if self.way.scope.is_all:
            below = set(self.tree.children.get(master, ()))
        else:
            steps = (
                self.tree.step_below(key, master) for place in self.places.values() for key in place.keyed
            )
            below = {step for step in steps if step is not None and step != master}
        return below - self.instead.keys()

    def _node(self, key: UUID) -> Node:
        return self.tree.nodes[key]
